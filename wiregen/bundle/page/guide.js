// Walks through the lists of the fault guide: a question, what it may show as buttons, and back.
(() => {
  const make = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text }, more);
  document.querySelectorAll(".guide").forEach((guide) => {
    const walk = guide.querySelector(".walk");
    const pick = guide.querySelector(".pick");
    if (!walk) return;
    guide.querySelector(".lists").open = false;
    // What has been shown so far, the newest last; Back takes one away.
    const trail = [];

    const button = (text, press) => {
      const made = make("button", text, { type: "button" });
      made.addEventListener("click", press);
      return made;
    };
    const go = (panel) => { trail.push(panel); show(); };

    const lead = (id) => {
      const place = document.getElementById(id);
      if (!place.matches(".list")) return go(check(place));
      const first = place.querySelector("ol > li");
      if (first) return go(check(first));
      const link = place.querySelector("a");
      return link ? lead(link.hash.slice(1)) : go(suspects(place, place.querySelector("ul")));
    };

    const check = (item) => {
      const list = item.closest(".list");
      const at = [...item.parentElement.children].indexOf(item);
      const answers = [...item.querySelectorAll(":scope > ul > li")].map((shown) => button(shown.firstChild.textContent, () => {
        const link = shown.querySelector(":scope > a");
        const ends = shown.querySelector(":scope > ul");
        if (link) lead(link.hash.slice(1));
        else if (ends) go(suspects(list, ends));
        else go(check(item.nextElementSibling));
      }));
      answers.push(button("Something else", () => go(nothing(list))));
      const ask = make("div", "", { className: "answers" });
      ask.setAttribute("role", "group");
      ask.setAttribute("aria-label", "What does it show?");
      ask.append(...answers);
      const well = item.querySelector(":scope > small");
      return [list, `Check ${at + 1}. ${item.firstChild.data}`,
        [...(well ? [make("p", well.textContent)] : []), make("p", "What does it show?"), ask]];
    };
    const suspects = (list, ends) => [list, "Suspects, the likeliest first", [ends.cloneNode(true), guide.querySelector(".after").cloneNode(true)]];
    const nothing = (list) => [list, "No likely single fault does that",
      [make("p", "Read it again. If it stays so, think of two faults at once, or go through the parts one by one.")]];

    const show = () => {
      const now = trail.at(-1);
      pick.hidden = Boolean(now);
      walk.hidden = !now;
      if (!now) { pick.querySelector("h3").focus(); return; }
      const [list, title, body] = now;
      const heading = make("h3", title, { tabIndex: -1 });
      const danger = list.querySelector(".danger");
      const ways = make("div", "", { className: "ways" });
      ways.append(button("Back", () => { trail.pop(); show(); }), button("Start again", () => { trail.length = 0; show(); }));
      walk.replaceChildren(heading, make("p", `List ${list.querySelector("h4").textContent}`, { className: "from" }),
        ...(danger ? [danger.cloneNode(true)] : []), ...body, ways);
      heading.focus();
    };

    pick.addEventListener("click", (event) => {
      const link = event.target.closest("a");
      if (!link) return;
      event.preventDefault();
      lead(link.hash.slice(1));
    });
  });
})();
