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
html{font-size:100%;-webkit-text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);
font-family:system-ui,-apple-system,"Segoe UI",Roboto,"DejaVu Sans",sans-serif;line-height:1.55}
a{color:var(--link)}
.skip{position:absolute;left:-999rem}
.skip:focus{left:1rem;top:1rem;background:var(--paper);padding:.5rem 1rem;z-index:2}
header,main,footer{max-width:62rem;margin:0 auto;padding:0 1rem}
header{padding-top:1.5rem}
main:focus{outline:none}
h1{font-size:1.8rem;line-height:1.2;margin:.5rem 0}
h2{font-size:1.4rem;margin:3rem 0 .75rem;padding-top:.75rem;border-top:3px solid var(--rule)}
h3{font-size:1.15rem;margin:2rem 0 .5rem}
h4{font-size:1rem;margin:1.5rem 0 .5rem}
h1,h2,h3,h4,p,li,dd,caption{overflow-wrap:anywhere}
p,ul,dl{margin:.6rem 0;max-width:44rem}
.lead{font-size:1.15rem}
nav{margin-top:2rem}
nav ul{padding-left:1.1rem;columns:2 16rem;max-width:none}
dt{font-weight:600}
dd{margin:0 0 .5rem 1rem;color:var(--ink)}
.note{padding:.7rem 1rem;border-left:6px solid var(--rule);background:var(--caution);
max-width:46rem}
.verdict{background:var(--verdict);border-left-color:var(--link)}
.banner{background:var(--banner);color:var(--banner-ink);font-weight:700;max-width:none;
margin:.5rem 0;padding:.6rem 1rem}
.scroll{overflow-x:auto;margin:1rem 0;max-width:100%}
.scroll:focus-visible,a:focus-visible{outline:3px solid var(--link);outline-offset:2px}
table{border-collapse:collapse;font-size:.92rem;font-variant-numeric:tabular-nums lining-nums}
caption{text-align:left;font-weight:600;padding:0 0 .4rem}
th,td{padding:.3rem .7rem;border-bottom:1px solid var(--rule);text-align:left;
vertical-align:top}
thead th{background:var(--card);vertical-align:bottom;max-width:8.5rem}
tbody th{font-weight:500;min-width:9rem}
td{min-width:3.2rem}
td.w{min-width:7.5rem}
.n{text-align:right}
td.n{white-space:nowrap}
.pad{visibility:hidden;user-select:none}
.under{color:var(--quiet);font-size:.9rem}
figure{margin:1.25rem 0;max-width:100%}
figure svg{display:block;width:100%;height:auto;max-width:50rem;background:#fff;
border:1px solid var(--rule);border-radius:4px}
figcaption b{color:var(--ink)}
figcaption{color:var(--quiet);font-size:.92rem;max-width:46rem;padding-top:.35rem}
footer{padding:2rem 1rem 3rem;color:var(--quiet);font-size:.9rem}
@media (max-width:40rem){h1{font-size:1.45rem}.lead{font-size:1.05rem}
th,td{padding:.3rem .45rem}.picture{overflow-x:auto}figure svg{min-width:34rem}}
@media print{body{background:#fff;color:#000;font-size:10pt}.skip,nav{display:none}
h2{break-after:avoid}h3,h4{break-after:avoid}figure,tr,.note{break-inside:avoid}
.scroll,.picture{overflow:visible}a{color:inherit}
header,main,footer{max-width:none}}
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
