/* The style sheet of the page. All text has a contrast of at least 4.5 to 1 (WCAG 2, level AA); colour is never the
 * only carrier of meaning. */
#include <stddef.h>

#include "report/html_parts.h"

const char *const tv_html_style[] = {
    ":root{color-scheme:light}",
    "*{box-sizing:border-box}",
    "body{margin:0 auto;padding:12px 16px;max-width:960px;background:#fff;color:#1a1a1a;",
    "font:15px/1.4 system-ui,\"DejaVu Sans\",Arial,sans-serif;overflow-wrap:break-word}",
    "h1{font-size:1.3em;line-height:1.25;margin:.2em 0}",
    "h2{font-size:1.05em;margin:1.1em 0 .35em;border-bottom:1px solid #999}",
    "p,ul,ol{margin:.35em 0}ul,ol{padding-left:1.2em}",
    ".small{font-size:.82em;color:#4a4a4a}",
    ".verdict{padding:.55em .7em;margin:.5em 0;border-left:.6em solid;font-size:1.12em;font-weight:600}",
    ".holds{background:#eaf4ea;border-color:#1b5e20}",
    ".marginal{background:#fbf3dc;border-color:#7a5600}",
    ".fails{background:#fbe9e7;border-color:#8a1c1c}",
    "dl.lines{margin:.4em 0;display:grid;grid-template-columns:5.2em 1fr;gap:.15em .5em}",
    "dl.lines dt{font-weight:700}dl.lines dd{margin:0}",
    "table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;font-size:.9em}",
    "th,td{padding:.16em .35em;text-align:left;vertical-align:top;border-bottom:1px solid #ddd}",
    "th{font-weight:600;border-bottom:1px solid #777}",
    "th.n,td.n{text-align:right}td.n{white-space:nowrap}",
    "tr.worst td{font-weight:700}",
    ".wide{overflow-x:auto}",
    "figure{margin:.4em 0;break-inside:avoid}",
    "figcaption{font-size:.88em;font-weight:600;margin-bottom:.15em}",
    "svg{display:block;width:100%;height:auto}",
    "svg text{font:11.5px system-ui,\"DejaVu Sans\",Arial,sans-serif;fill:#1a1a1a}",
    "svg .soft{fill:#4a4a4a}",
    ".pair{display:grid;grid-template-columns:1fr 1fr;gap:0 1.2em}",
    ".pair>*{min-width:0}",
    ".loop{list-style:none;display:flex;flex-wrap:wrap;gap:.3em .25em;padding:0;margin:.3em "
    "0;align-items:stretch}",
    ".loop li{display:flex;align-items:center}",
    ".loop .box{border:1px solid #555;padding:.2em "
    ".45em;text-align:center;font-size:.86em;line-height:1.25;min-width:5.2em}",
    ".loop b{display:block;font-size:1.1em;font-variant-numeric:tabular-nums}",
    ".loop li+li::before{content:\"\\2192\";padding-right:.25em;color:#4a4a4a}",
    ".loop .end{background:#e4e4e4}",
    ".loop .most{border:2.5px solid #8a1c1c;background:#fbe9e7}",
    ".columns{columns:2;column-gap:1.6em}",
    ".columns{padding-left:0;list-style:none}.columns "
    "li{break-inside:avoid;position:relative;padding-left:1em}",
    ".columns "
    "li::before{content:\"\\2022\";position:absolute;left:.15em}table+table{margin-top:.7em}.keep{break-"
    "inside:avoid}",
    "@media (max-width:640px){body{font-size:14px;padding:8px 10px}.pair{display:block}.columns{columns:1}",
    "th,td{padding:.16em .22em}table{font-size:.82em}dl.lines{grid-template-columns:1fr;gap:0}dl.lines "
    "dd{margin-bottom:.3em}}",
    ".sign{display:grid;grid-template-columns:1fr 2fr 2fr;gap:1.5em;margin:2.6em 0 .6em}",
    ".sign span{border-top:1px solid #555;padding-top:.15em;font-size:.82em;color:#4a4a4a}",
    "@page{size:A4;margin:9mm 11mm}",
    "@media "
    "print{body{font-size:8.4pt;line-height:1.24;max-width:none;padding:0;-webkit-print-color-adjust:exact;",
    "print-color-adjust:exact}h2{margin:.65em 0 .2em;break-after:avoid}.verdict{margin:.3em 0;padding:.35em "
    ".6em}",
    "figure{margin:.2em 0}table{font-size:.88em}th,td{padding:.06em .3em}p,ul,ol{margin:.2em 0}",
    ".sheet{break-before:page}.sign{margin:2.2em 0 .3em}",
    ".pair{display:grid}.tight{font-size:.8em;line-height:1.18}.tight.columns{columns:3}",
    ".tight.dense{columns:4;font-size:.62em;line-height:1.1}tr{break-inside:avoid}}",
    NULL};
