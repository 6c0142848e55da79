"""The style sheet of a paper as a page: wide screen, phone and print."""

from typing import Final

#: Kept apart so that the page's policy can name its hash.
STYLE: Final = """
:root{color-scheme:light}
*{box-sizing:border-box}
body{margin:0 auto;padding:1rem;max-width:80rem;color:#111;background:#fff;
 font:16px/1.4 Arial,"Liberation Sans","DejaVu Sans",sans-serif;overflow-wrap:break-word}
h1{font-size:1.6rem;line-height:1.2;margin:0 0 .6rem}
h2{font-size:1.25rem;margin:2rem 0 .5rem;padding-bottom:.2rem;border-bottom:2px solid #111}
h3{font-size:1rem;margin:1rem 0 .2rem}
p{margin:.3rem 0 .6rem}
ul,ol{margin:.3rem 0;padding-left:1.5rem}
dl,dd,figure{margin:0}
dt{font-weight:700}
footer{margin-top:1.5rem;border-top:2px solid #111}
.facts{display:flex;flex-wrap:wrap;gap:.3rem 1.6rem}
.facts dt{font-size:.8em;font-weight:400;color:#444}
.pairs div{display:grid;grid-template-columns:minmax(2rem,max-content) 1fr;gap:.7rem}
.end{color:#444;white-space:nowrap}
.ticks{list-style:"\\2610\\a0"}
.boxed{border:3px solid #111;margin:1rem 0;padding:.2rem 1rem .7rem;font-weight:700}
.boxed h2{margin:.4rem 0;border:0}
nav{margin:.6rem 0}
nav a{display:inline-block;padding:.5rem .9rem;margin:0 .3rem .4rem 0;border:1px solid #111;border-radius:4px;
 color:#111;text-decoration:none}
nav a:focus-visible{outline:3px solid #111;outline-offset:2px}
table{width:100%;border-collapse:collapse;font-size:.9rem;margin:.3rem 0 .8rem}
caption{text-align:left;color:#444;padding:0 0 .3rem}
th,td{border:1px solid #777;padding:.3rem .45rem;text-align:left;vertical-align:top}
thead th{background:#e4e4e4;border-bottom:2px solid #111}
tbody th{font-weight:400}
.group th{background:#f3f3f3;font-size:1rem;font-weight:700}
.mark,.mark bdi{font-weight:700}
td.number,th.number{text-align:right;white-space:nowrap}
.field{min-width:6rem}
.whole{white-space:nowrap}
.swatch{vertical-align:-1px;margin-right:.2rem}
.marked th,.marked td{border-top:2px dashed #111;border-bottom:2px dashed #111}
@media screen and (max-width:58rem){
 body{padding:.7rem}
 table,caption,tbody,tr,th,td{display:block;width:100%}
 thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
 tr{border:1px solid #777;border-radius:4px;margin:0 0 .6rem;padding:.2rem 0;
  display:grid;grid-template-columns:1fr 1fr;grid-auto-flow:dense}
 tr.group{display:block;border:0;margin:.9rem 0 .4rem;padding:0}
 .group th{padding:.35rem .5rem;border-left:6px solid #111}
 th,td{border:0;padding:.15rem .6rem;grid-column:1/-1;order:3;min-width:0}
 td[data-label]::before{content:attr(data-label) ": ";color:#444;font-weight:400}
 .half{grid-column:auto}
 .mark{order:1}
 td.number,.whole{text-align:left;white-space:normal}
 tbody th:not([scope=rowgroup]){order:0;font-size:1.2rem}
 .empty,.field{display:none}
 tr.marked{border:3px dashed #111}
 .marked th,.marked td{border:0}
}
@media print{
 @page{size:landscape;margin:12mm}
 body{font-size:9.5pt;padding:0 1px;max-width:none}
 .group th{font-size:9.5pt}
 h1{font-size:15pt}
 h2{font-size:12pt;margin-top:6mm;break-after:avoid}
 h3,p,.facts{break-after:avoid}
 nav{display:none}
 table{font-size:8.5pt}
 caption{break-after:avoid}
 thead{display:table-header-group}
 tr,li,dl,.group{break-inside:avoid}
 .group{break-after:avoid}
 th,td{padding:.9mm 1.3mm}
}
"""
