package plan

// SheetCSS is the style sheet of the day sheet. Every colour is a variable, set
// with no weight of its own, so that a page can set it again on .ds.
const SheetCSS = `:where(.ds){--ds-kraft:#dcc6a0;--ds-paper:#f8f1e3;--ds-night:#46392d;--ds-pencil:#2d2823;--ds-faint:#6b5c4a;--ds-moon:#f3e6cd;--ds-wait:#efe0c2;--ds-accent:#9a2a16}
.ds{font-family:ui-sans-serif,system-ui,sans-serif;font-size:13px}
.ds .kraft{fill:var(--ds-kraft)}
.ds .paper{fill:var(--ds-paper)}
.ds .night{fill:var(--ds-night)}
.ds .head{fill:var(--ds-kraft)}
.ds .job{fill:var(--ds-paper)}
.ds .wait{fill:var(--ds-wait)}
.ds .h-clamped,.ds .h-cure,.ds .h-lag{stroke:var(--ds-pencil);stroke-width:1;fill:none}
.ds .h-lag{stroke-width:1.6;stroke-linecap:round}
.ds .edge{stroke:var(--ds-pencil);stroke-width:1.1;fill:none;stroke-linecap:round}
.ds .rule{stroke:var(--ds-pencil);stroke-width:.7;fill:none}
.ds .chain{fill:var(--ds-accent)}
.ds .ready{stroke:var(--ds-accent);stroke-width:2.4;fill:none}
.ds .now{stroke:var(--ds-accent);stroke-width:1.6;fill:none;stroke-dasharray:5 3}
.ds text{fill:var(--ds-pencil)}
.ds .title{font-size:19px;font-weight:600}
.ds .day{font-size:14px;font-weight:600}
.ds .name{font-weight:600}
.ds .small{font-size:12px}
.ds text.dark{fill:var(--ds-moon)}
.ds text.red{fill:var(--ds-accent)}
.ds text.up{font-size:12px;stroke:var(--ds-wait);stroke-width:3.5;stroke-linejoin:round;paint-order:stroke}
@media print{:where(.ds){--ds-kraft:#fff;--ds-paper:#fff;--ds-night:#555;--ds-pencil:#000;--ds-wait:#fff;--ds-accent:#000;--ds-moon:#fff}}
`
