"""Colors and the style sheet of every page.

Every text color has a contrast of at least 4.5:1 on its background, light and
dark; the test computes it from the pairs below. Leans on nothing.
"""

# name -> (light, dark)
COLORS = {
    "paper": ("#ffffff", "#14181b"),
    "card": ("#f3f5f4", "#20262a"),
    "ink": ("#1b2226", "#e9edee"),
    "quiet": ("#4d585e", "#b3bdc2"),
    "link": ("#0b5a8a", "#8cc8f0"),
    "rule": ("#c3cbcf", "#4a555b"),
    "caution": ("#fff4d6", "#3a3115"),
    "banner": ("#7a1f1f", "#ffd9d2"),
    "banner-ink": ("#ffffff", "#3d0d0d"),
    "verdict": ("#e4f0f7", "#17303f"),
}

# text color on background, as used below
TEXT_ON = (
    ("ink", "paper"),
    ("ink", "card"),
    ("ink", "caution"),
    ("ink", "verdict"),
    ("quiet", "paper"),
    ("quiet", "card"),
    ("link", "paper"),
    ("link", "card"),
    ("banner-ink", "banner"),
)

_SHEET = """
*{box-sizing:border-box}
html{font-size:100%;scroll-padding-bottom:3rem;-webkit-text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);
font-family:system-ui,-apple-system,"Segoe UI",Roboto,"DejaVu Sans",sans-serif;line-height:1.55}
a{color:var(--link)}
.skip{position:absolute;left:-999rem}
.skip:focus{left:1rem;top:1rem;background:var(--paper);padding:.5rem 1rem;z-index:2}
header,main,footer{max-width:78rem;margin:0 auto;padding:0 1.5rem}
header{padding-top:1.5rem}
main:focus{outline:none}
h1{font-size:1.8rem;line-height:1.2;margin:.5rem 0}
h2{font-size:1.4rem;margin:3rem 0 .75rem;padding-top:.75rem;border-top:3px solid var(--rule)}
h3{font-size:1.15rem;margin:2rem 0 .5rem}
h4{font-size:1rem;margin:1.5rem 0 .5rem}
h1,h2,h3,h4,p,li,dd,caption{overflow-wrap:anywhere}
p,ul,dl{margin:.6rem 0;max-width:44rem}
.lead{font-size:1.15rem}
nav{margin:1rem 0;padding:.4rem 0;border:solid var(--rule);border-width:1px 0}
nav ul{display:flex;flex-wrap:wrap;gap:.1rem 1.4rem;list-style:none;margin:0;padding:0;
max-width:none;font-size:.95rem}
nav a{display:inline-block;padding:.15rem 0}
.back{margin-top:1.2rem;font-size:.9rem;position:sticky;bottom:0;width:max-content;
background:var(--paper);border:1px solid var(--rule);border-bottom:0;padding:.15rem .7rem}
@media (min-width:60rem){dl{display:grid;grid-template-columns:16rem 1fr;max-width:60rem}}
dt{font-weight:600}
dd{margin:0 0 .5rem 1rem;color:var(--ink)}
.note{padding:.7rem 1rem;border-left:6px solid var(--rule);background:var(--caution);
max-width:46rem}
.verdict{background:var(--verdict);border-left-color:var(--link)}
.banner{background:var(--banner);color:var(--banner-ink);font-weight:700;max-width:none;
margin:.5rem 0;padding:.6rem 1rem}
.scroll{overflow-x:auto;margin:1rem 0;max-width:100%;
background:linear-gradient(90deg,var(--paper) 40%,transparent) 0 0/2.5rem 100% no-repeat local,
linear-gradient(270deg,var(--paper) 40%,transparent) 100% 0/2.5rem 100% no-repeat local,
linear-gradient(90deg,var(--quiet),transparent) 0 0/.9rem 100% no-repeat scroll,
linear-gradient(270deg,var(--quiet),transparent) 100% 0/.9rem 100% no-repeat scroll}
.scroll:focus-visible,a:focus-visible,summary:focus-visible{outline:3px solid var(--link);outline-offset:2px}
table{border-collapse:collapse;font-size:.92rem;font-variant-numeric:tabular-nums lining-nums}
caption{text-align:left;font-weight:600;padding:0 0 .4rem}
caption span{display:inline-block;position:sticky;left:0;max-width:calc(100vw - 3rem)}
th,td{padding:.3rem .7rem;border-bottom:1px solid var(--rule);text-align:left;
vertical-align:top}
thead th{background:var(--card);vertical-align:bottom;max-width:10rem}
tbody th{font-weight:500;min-width:9rem}
td{min-width:3.2rem}
td.w{min-width:7.5rem}
.n{text-align:right}
td.n{white-space:nowrap}
.pad{visibility:hidden;user-select:none}
details{margin:.6rem 0;border-left:4px solid var(--rule);padding:0 0 0 .8rem}
summary{cursor:pointer;padding:.25rem 0;max-width:60rem;overflow-wrap:anywhere}
summary::marker{color:var(--link)}
details[open]>summary{font-weight:600}
.under{max-width:60rem;color:var(--quiet);font-size:.9rem}
figure{margin:1.25rem 0;max-width:100%}
figure svg.narrow{display:none}
figure svg.wide,figure svg.narrow{width:100%;height:auto;background:#fff}
figure svg.wide{display:block;max-width:50rem}
figure svg{border:1px solid var(--rule);border-radius:4px}
figcaption b{color:var(--ink)}
figcaption{color:var(--quiet);font-size:.92rem;max-width:46rem;padding-top:.35rem}
figcaption .data{display:block;overflow-wrap:anywhere}
footer{padding:2rem 1rem 3rem;color:var(--quiet);font-size:.9rem}
@media screen and (max-width:46rem){figure .two svg.wide{display:none}
figure .two svg.narrow{display:block;max-width:30rem}}
@media (max-width:46rem){header,main,footer{padding-left:1rem;padding-right:1rem}
h1{font-size:1.45rem}h2{margin-top:2rem}.lead{font-size:1.05rem}th,td{padding:.3rem .45rem}
tbody th{min-width:7rem}td.w{min-width:6.5rem}}
@media screen and (min-width:78rem){figure{display:grid;gap:1.5rem;align-items:start;
grid-template-columns:50rem 1fr}}
@media print{body{background:#fff;color:#000;font-size:10pt}.skip,nav,.back{display:none}
.banner{background:none;color:#000;border:2px solid #000}
h2{break-after:avoid}h3,h4{break-after:avoid}figure,tr,.note{break-inside:avoid}
details{border:0;padding:0}summary{list-style:none;font-weight:600;break-after:avoid}
details::details-content{content-visibility:visible;block-size:auto}
.scroll{overflow:visible;background:none}caption span{max-width:none}a{color:inherit}table{font-size:8pt}th,td{padding:.15rem .3rem}
tbody th{min-width:0}td,td.w{min-width:0}td.n{white-space:normal}
header,main,footer{max-width:none;padding:0}}
@page{margin:12mm}
"""


def style_sheet() -> str:
    """Return the page's style sheet."""
    light = "".join(f"--{name}:{pair[0]};" for name, pair in COLORS.items())
    dark = "".join(f"--{name}:{pair[1]};" for name, pair in COLORS.items())
    return (
        f":root{{color-scheme:light dark;{light}}}"
        f"@media (prefers-color-scheme:dark){{:root{{{dark}}}}}"
        f"@media print{{:root{{color-scheme:light;{light}}}}}"
    ) + _SHEET.replace("\n", "")
