/** The look. Everything a page may want to change is a custom property; README.md lists them. */
export const style = `
:host {
  --ink: var(--faultodds-ink, #1d2327);
  --quiet: var(--faultodds-quiet, #505a61);
  --paper: var(--faultodds-paper, #ffffff);
  --shade: var(--faultodds-shade, #f2f4f3);
  --line: var(--faultodds-line, #c3cac8);
  --accent: var(--faultodds-accent, #1d5b4f);
  --on-accent: var(--faultodds-on-accent, #ffffff);
  --caution: var(--faultodds-caution, #5f3300);
  --caution-ink: var(--faultodds-caution-ink, #1d2327);
  --caution-shade: var(--faultodds-caution-shade, #fdf3e2);
  --radius: var(--faultodds-radius, 3px);
  --gap: var(--faultodds-gap, 1rem);
  display: block;
  color: var(--ink);
  background: var(--paper);
  font: var(--faultodds-font, 1rem/1.5 system-ui, sans-serif);
  overflow-wrap: anywhere;
}
:host([hidden]) { display: none; }
*, *::before, *::after { box-sizing: border-box; }
h2 { font-size: 1.15em; line-height: 1.3; margin: 0 0 .5rem; }
h3 { font-size: 1em; line-height: 1.4; margin: 0; }
h3.part { font-size: .95em; margin: .9rem 0 .25rem; }
p { margin: 0 0 .5rem; }
ul, ol { margin: 0; padding-inline-start: 1.2rem; }
ol.steps { list-style: none; padding: 0; counter-reset: step; }
ol.steps > li { counter-increment: step; display: flex; align-items: center; min-height: 48px; gap: .5rem; }
ol.steps > li::before { content: counter(step) "."; flex: none; min-width: 1.5rem; text-align: end; font-variant-numeric: tabular-nums; }
.tree, .tree ul { list-style: none; padding: 0; margin: 0; }
.tree ul { padding-inline-start: .75rem; }
.tree ul > li { border-inline-start: 2px solid var(--line); padding: .25rem 0; padding-inline-start: .75rem; }
.tree .seen { color: var(--accent); font-weight: 600; }
.tree .end { background: var(--shade); padding: .1rem .35rem; border-radius: var(--radius); }
.printing { position: fixed; inset-block-start: 0; inset-inline-start: -250mm; inline-size: 190mm; block-size: 277mm; border: 0; }
section { padding: var(--gap) 0; border-top: 1px solid var(--line); }
section:first-of-type { border-top: 0; }
.quiet { color: var(--quiet); }
.status { min-height: 1.5em; margin: 0; padding: .5rem 0; color: var(--quiet); }
.status.alert { color: var(--caution); font-weight: 600; }
.source { margin: 0; padding: .25rem 0 .5rem; color: var(--quiet); }
.source:empty { display: none; }
.source.alert { color: var(--ink); font-weight: 600; }
.caution { border-inline-start: .35rem solid var(--caution); background: var(--caution-shade); padding: .75rem 1rem; }
.caution li + li { margin-top: .35rem; }
button, select, input, summary, .choice { font: inherit; min-height: 48px; }
button, select, input[inputmode], input[type=text] {
  color: inherit; background: var(--paper); border: 1px solid var(--quiet); border-radius: var(--radius);
  padding: .4rem .75rem; max-width: 100%;
}
button { min-width: 48px; cursor: pointer; }
button.main { background: var(--accent); border-color: var(--accent); color: var(--on-accent); font-weight: 600; }
button:disabled { opacity: 1; color: var(--quiet); background: var(--shade); border-style: dashed; cursor: default; }
:focus-visible { outline: 3px solid var(--accent); outline-offset: 2px; }
summary { display: flex; align-items: center; gap: .5rem; cursor: pointer; padding: .25rem 0; }
summary::before { content: "+"; flex: none; width: 1rem; text-align: center; color: var(--quiet); }
details[open] > summary::before { content: "\\2212"; }
summary::-webkit-details-marker { display: none; }
summary { list-style: none; }
.facts { display: flex; flex-wrap: wrap; gap: 0 .9rem; }
.power { color: var(--caution); font-weight: 600; }
.caution { color: var(--caution-ink); margin: .5rem 0; }
.does { font-size: 1.2em; line-height: 1.4; margin: .75rem 0; }
.outcomes { display: grid; gap: .5rem; }
.outcome { display: grid; text-align: start; width: 100%; border-width: 2px; border-color: var(--accent); padding: .6rem .75rem; }
.found { display: grid; gap: .5rem; }
.found button { text-align: start; }
.likely, .rows, .steps { padding: 0; list-style: none; }
.steps { padding-inline-start: 1.4rem; list-style: decimal; }
.rows li { border-bottom: 1px solid var(--line); padding: .25rem 0; }
.rows li:last-child { border-bottom: 0; }
.fallbacks, .more { display: grid; gap: .25rem; margin-top: .5rem; }
.more > details { border-top: 1px solid var(--line); }
input[type=text] { width: 100%; }
caption { text-align: start; font-weight: 600; }
fieldset { border: 0; margin: 0; padding: 0; min-width: 0; }
legend { padding: 0; font-weight: 600; }
.choices { display: flex; flex-wrap: wrap; gap: .25rem 1rem; }
.choice { display: inline-flex; align-items: center; gap: .5rem; padding: .25rem .5rem .25rem 0; cursor: pointer; }
.choice input { width: 1.35rem; height: 1.35rem; margin: 0; accent-color: var(--accent); flex: none; }
.fields { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 15rem), 1fr)); gap: .5rem 1rem; }
.field label { display: block; }
.field .pair { display: flex; gap: .25rem; }
.field input { flex: 1 1 6rem; min-width: 0; width: 100%; }
.field select { flex: 0 0 auto; }
.problem { color: var(--caution); font-weight: 600; margin: .5rem 0; }
.row { display: flex; flex-wrap: wrap; gap: .5rem; align-items: center; justify-content: space-between; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: start; vertical-align: top; padding: .35rem 0; padding-inline-end: .5rem; border-bottom: 1px solid var(--line); }
th.number, td.number { text-align: end; padding-inline-end: 0; width: 1%; white-space: nowrap; overflow-wrap: normal; }
.bar { display: block; height: .35rem; background: var(--shade); margin-top: .25rem; }
.bar > i { display: block; height: 100%; background: var(--accent); }
.actions { display: flex; flex-wrap: wrap; gap: .5rem; margin-top: .75rem; }
.circuit { display: block; max-width: 100%; height: auto; direction: ltr; }
.paper { display: none; }
@media print {
  :host { font-size: 10pt; }
  button, form, .status, .source, .off-paper { display: none !important; }
  .paper { display: block; }
  details > summary::before { content: none !important; }
  details::details-content { content-visibility: visible; height: auto; display: block; }
  section { break-inside: avoid; }
  .caution { background: none; border: 1px solid #000; border-inline-start-width: .35rem; }
}
`;

/** Of the job card, a page of its own. */
export const cardStyle = `
@page { size: A4; margin: 10mm; }
body { font: 7.5pt/1.2 system-ui, sans-serif; color: #000; margin: 0; }
h2 { font-size: 1.4em; } h3 { font-size: 1.1em; margin: 0; }
h2, p, table { margin: .4em 0; }
ul { margin: 0; padding-inline-start: 1.2em; }
.caution { border: .4mm solid; padding: .4em; font-weight: 600; }
.caution ul { columns: 2; column-gap: 7mm; }
.tree, .tree ul { list-style: none; padding: 0; }
.tree ul { padding-inline-start: 1em; }
.tree ul > li { border-inline-start: .3mm solid #888; padding-inline-start: .8em; }
.tree .seen { font-weight: 600; }
.tree .end { background: #eee; padding: 0 .3em; }
table { border-collapse: collapse; width: 100%; font: inherit; }
td, th { border: .2mm solid #888; padding: .1em .3em; text-align: start; vertical-align: top; }
.box { display: inline-block; margin-inline-end: .6em; white-space: nowrap; }
.blank { margin-inline-end: .8em; white-space: nowrap; }
.blank i { display: inline-block; min-width: 22mm; border-bottom: .2mm solid; }
`;
