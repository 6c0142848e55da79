"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const CONDITION = { L: "live", R: "return", D: "dead", F: "floating" };
  const SHOWS = ["dark", "dim", "lit", "too bright"];
  const DOES = ["off", "weak", "on", "too strong"];
  const slug = (word) => word.replace(" ", "-");
  const at = (id) => document.getElementById(id);
  const all = (query, from = document) => [...from.querySelectorAll(query)];
  // The flasher runs 90 times a minute, inside the 60 to 120 of the regulations; still for who asks for no motion.
  const HALF_MS = 333;
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const chosen = data.controls.map(() => 0);
  let trailer = 0, flasher = still ? "lit" : "runs", lit = true, picked = null, zoom = 0;

  const fixed = (value, scale, digits) => {
    const text = (value / scale).toFixed(digits);
    return /^-0(\.0+)?$/.test(text) ? text.slice(1) : text;
  };
  const volts = (value) => (value === null ? "floats" : fixed(value, 100, 2));
  const amps = (value) => (value === null ? "\u2013" : fixed(value, 1000, 3));
  // Ends of a range are told as coarsely as a meter's last digit dances.
  // They are rounded away from the range: no reading inside it looks wrong for the last digit of its print.
  const end = (value, scale, most, outward) => {
    const size = Math.abs(value) / scale;
    const digits = size >= 10 ? 1 : size >= 1 ? Math.min(2, most) : most;
    const step = scale / 10 ** digits;
    return fixed(outward(value / step) * step, scale, digits);
  };
  const range = (low, high, scale, most) =>
    low === null ? "" : `${end(low, scale, most, Math.floor)}\u2026${end(high, scale, most, Math.ceil)}`;

  const rowNow = () => {
    const table = data.trailers[trailer];
    let number = 0;
    data.controls.forEach(([, values], place) => { number = number * values.length + chosen[place]; });
    const pair = table.rows[number];
    const half = flasher === "runs" ? lit : flasher === "lit";
    return { flashes: pair[0] !== pair[1], state: table.states[pair[half ? 0 : 1]], half };
  };

  const setClass = (element, prefix, word) => {
    if (element.dataset.now === word) return;
    if (element.dataset.now) element.classList.remove(prefix + slug(element.dataset.now));
    element.dataset.now = word;
    element.classList.add(prefix + slug(word));
  };

  const partsOf = data.trailers.map((table, number) => {
    const home = at(`trailer-${number}`);
    const row = new Map(table.terminals.map((name, place) => [name, place]));
    const part = new Map(table.parts.map(([ref], place) => [ref, place]));
    const lamp = new Map(table.lamps.map((ref, place) => [ref, place]));
    return {
      home, row, part, lamp,
      nets: all("[data-net]", home).map((element) => [element, row.get(element.dataset.net)]).filter(([, n]) => n !== undefined),
      wires: all(".conductor[data-ref]", home).map((element) => [element, part.get(element.dataset.ref)]),
      gates: all(".coil[data-ref],.switch[data-ref],.relaycontact[data-ref]", home).map((element) => [element, part.get(element.dataset.ref)]),
      lamps: all(".lamp[data-ref],.load[data-ref]", home).map((element) => [element, lamp.get(element.dataset.ref)]),
      readings: all("tr[data-reading]", home).map((element) => [element, element.dataset.reading.split(" ").map(Number)]),
      conductors: all("tr[data-part]", home).map((element) => [element, part.get(element.dataset.part)]),
    };
  });

  const fillVolts = (cell, value, low, high) => {
    cell.firstChild.data = volts(value);
    cell.lastChild.textContent = range(low, high, 100, 2);
  };
  const fillAmps = (cell, value, low, high) => {
    cell.firstChild.data = amps(value);
    cell.lastChild.textContent = range(low, high, 1000, 3);
  };

  const render = () => {
    const { flashes, state, half } = rowNow();
    const table = data.trailers[trailer];
    const here = partsOf[trailer];
    const word = (terminal) => CONDITION[state.c[terminal]];
    here.nets.forEach(([element, n]) => setClass(element, "c-", word(n)));
    here.wires.forEach(([element, n]) => setClass(element, "c-", word(table.parts[n][1])));
    const on = new Set(state.on);
    here.gates.forEach(([element, n]) => element.classList.toggle("on", on.has(n)));
    here.lamps.forEach(([element, n]) => setClass(element, "l-", SHOWS[state.l[n]]));
    here.readings.forEach(([element, numbers]) => {
      const cells = all(".n", element);
      const spans = numbers.map((number) => table.spans[state.r[number]]);
      spans.forEach((span, place) => fillVolts(cells[place], span[0], span[1], span[2]));
      const last = spans[0];
      if (cells.length > spans.length) fillAmps(cells[cells.length - 1], last[3], last[4], last[5]);
      const lampNumber = here.lamp.get(element.dataset.lamp);
      const words = element.dataset.load ? DOES : SHOWS;
      const says = lampNumber === undefined ? word(here.row.get(element.dataset.at)) : words[state.l[lampNumber]];
      setClass(element, "", says);
      element.querySelector(".s").textContent = says;
    });
    here.conductors.forEach(([element, n]) => {
      const cells = all(".n", element);
      const says = word(table.parts[n][1]);
      fillVolts(cells[0], state.v[table.parts[n][1]], null, null);
      fillAmps(cells[1], state.a[n], null, null);
      setClass(element, "", says);
      element.querySelector(".s").textContent = says;
    });
    const burning = table.lamps.filter((ref, n) => state.l[n] > 1);
    const words = data.controls.map(([, values], place) => (chosen[place] ? at(`c-${place}-${chosen[place]}`)?.dataset.words : "")).filter(Boolean);
    const halfWords = flashes ? (flasher === "runs" ? ", flashing" : `, ${half ? "lit" : "dark"} half of the flash`) : "";
    // While it flashes the sentence stays: a screen reader must not be told twice a second.
    const sentence = `${words.join(", ") || "all off"}${halfWords}: ` +
      (flashes && flasher === "runs" ? "lamps follow the flasher" : burning.length ? `${burning.join(", ")} on` : "every lamp dark") +
      (state.t ? `. Not computed: ${state.t}` : "");
    if (at("now").textContent !== sentence) at("now").textContent = sentence;
    at("flasher").hidden = !flashes;
    if (picked) tell();
  };

  const tell = () => {
    const { state } = rowNow();
    const table = data.trailers[trailer];
    const here = partsOf[trailer];
    const place = here.part.get(picked.dataset.ref);
    const terminal = place === undefined ? here.row.get(picked.dataset.net) : table.parts[place][1];
    if (terminal === undefined) return;
    const title = picked.querySelector("title")?.textContent ?? picked.dataset.ref ?? picked.dataset.net;
    const volt = state.v[terminal] === null ? "hangs free" : `${volts(state.v[terminal])} V against battery minus`;
    const current = place === undefined ? "" : `, ${amps(state.a[place])} A`;
    at("picked").textContent = `${title}: ${CONDITION[state.c[terminal]]}, ${volt}${current}`;
  };

  const choose = (place, value) => {
    if (data.controls.length) chosen[place] = value;
    (data.controls[place]?.[1] ?? []).forEach((_, other) => {
      const button = at(`c-${place}-${other}`);
      if (button) button.setAttribute("aria-checked", String(other === value));
    });
    const words = data.controls.map(([, values], n) => values[chosen[n]]).join("-");
    history.replaceState(null, "", `#${trailer}-${words}`);
    render();
  };

  const radios = (name, pick) => {
    const group = at(name);
    if (!group) return;
    const buttons = all("button", group);
    const press = (button) => {
      buttons.forEach((other) => {
        other.setAttribute("aria-checked", String(other === button));
        other.tabIndex = other === button ? 0 : -1;
      });
      pick(button.dataset.value);
    };
    buttons.forEach((button, place) => {
      button.tabIndex = button.getAttribute("aria-checked") === "true" ? 0 : -1;
      button.addEventListener("click", () => press(button));
      button.addEventListener("keydown", (event) => {
        const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
        if (!step) return;
        event.preventDefault();
        const next = buttons[(place + step + buttons.length) % buttons.length];
        next.focus();
        press(next);
      });
    });
  };

  const show = (number) => {
    trailer = number;
    picked = null;
    at("picked").textContent = at("picked").dataset.empty;
    partsOf.forEach(({ home }, place) => { home.hidden = place !== number; });
    choose(0, chosen[0]);
  };

  data.controls.forEach(([, values], place) => {
    if (values.length === 2 && values[1] === "on") {
      const button = at(`c-${place}-1`);
      button.addEventListener("click", () => choose(place, chosen[place] ? 0 : 1));
    } else radios(`control-${place}`, (value) => choose(place, Number(value)));
  });
  radios("trailers", (value) => show(Number(value)));
  radios("flasher", (value) => { flasher = value; lit = true; render(); });

  document.addEventListener("click", (event) => {
    const part = event.target.closest(".drawing [data-ref], .drawing [data-net]");
    if (!part) return;
    picked = part;
    tell();
  });

  at("search").addEventListener("input", (event) => {
    const wanted = event.target.value.trim().toLowerCase();
    let count = 0;
    all("tr[data-words]").forEach((row) => {
      const fits = !wanted || row.dataset.words.includes(wanted);
      row.hidden = !fits;
      if (fits && row.closest("section:not([hidden])")) count += 1;
      all(`[data-ref="${CSS.escape(row.dataset.ref)}"]`).forEach((element) => {
        if (element.closest(".drawing")) element.classList.toggle("found", Boolean(wanted) && fits);
      });
    });
    at("hits").textContent = wanted ? `${count} row${count === 1 ? "" : "s"} found` : "";
  });

  const size = (step) => {
    zoom = Math.max(0, Math.min(6, zoom + step));
    all(".drawing svg").forEach((svg) => { svg.style.width = zoom ? `${100 + 50 * zoom}%` : "100%"; svg.style.maxWidth = "none"; });
  };
  at("larger").addEventListener("click", () => size(1));
  at("smaller").addEventListener("click", () => size(-1));
  at("print").addEventListener("click", () => print());
  if (matchMedia("(max-width: 60rem)").matches) size(3);

  const [wantedTrailer, ...words] = decodeURIComponent(location.hash.slice(1)).split("-");
  if (words.length === data.controls.length) {
    if (data.trailers[Number(wantedTrailer)]) trailer = Number(wantedTrailer);
    words.forEach((word, place) => {
      const value = data.controls[place][1].indexOf(word);
      if (value > 0) choose(place, value);
    });
  }
  addEventListener("beforeprint", () => all("details:not(.guide, .lists)").forEach((element) => { element.open = true; }));
  all(".needs-script").forEach((element) => { element.hidden = false; });
  all("#trailers button").forEach((button) => button.setAttribute("aria-checked", String(Number(button.dataset.value) === trailer)));
  show(trailer);
  setInterval(() => {
    if (flasher !== "runs" || document.hidden) return;
    lit = !lit;
    if (rowNow().flashes) render();
  }, HALF_MS);
})();
