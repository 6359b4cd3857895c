/* style.c - how every page looks: on a screen, on a projector, on paper.
 *
 * Colours of text keep a contrast of 4.5:1 and more against their ground, by
 * day and by night (WCAG 2.1, success criterion 1.4.3); what a colour says, a
 * shape or a word says too. */
#include "style.h"

const char paper_style[] =
    ":root{--ground:#fbfaf6;--ink:#1c2430;--quiet:#55606e;--line:#c9cdd2;"
    "--card:#ffffff;--accent:#0b5c74}\n"
    "@media (prefers-color-scheme:dark){:root{--ground:#12171d;"
    "--ink:#eef1f4;--quiet:#a9b4c0;--line:#3b4652;--card:#1a2129;"
    "--accent:#6cc5dd}}\n"
    "*{box-sizing:border-box}\n"
    "body{margin:0 auto;max-width:70rem;padding:1.5rem;"
    "background:var(--ground);color:var(--ink);"
    "font:1.05rem/1.45 system-ui,sans-serif}\n"
    "h1{font-size:1.9rem;line-height:1.15;margin:0 0 .3rem}\n"
    "h2{font-size:1.2rem;margin:1.4rem 0 .4rem;color:var(--accent)}\n"
    "p{margin:.3rem 0}\n"
    "table{border-collapse:collapse;width:100%}\n"
    "th,td{text-align:left;padding:.22rem .6rem .22rem 0;"
    "border-bottom:1px solid var(--line);vertical-align:top}\n"
    "td.n{text-align:right;white-space:nowrap;"
    "font-variant-numeric:tabular-nums;font-weight:600}\n"
    ".quiet{color:var(--quiet)}\n"
    ".big{font-size:1.6rem;font-weight:700}\n"
    ".cards{display:grid;gap:.8rem;"
    "grid-template-columns:repeat(auto-fit,minmax(11rem,1fr))}\n"
    ".card{background:var(--card);border:1px solid var(--line);"
    "border-radius:.5rem;padding:.7rem .9rem}\n"
    "footer{margin-top:1.2rem;color:var(--quiet);font-size:.9rem}\n"
    "@media print{:root{--ground:#fff;--card:#fff;--ink:#000;--quiet:#444;"
    "--line:#999;--accent:#000}body{padding:0;max-width:none;font-size:9.5pt}"
    "h1{font-size:15pt}h2{font-size:11pt;margin:.6rem 0 .2rem}"
    "@page{margin:11mm}}\n";
