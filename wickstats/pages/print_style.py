"""The style sheet of papers: black on white, sizes in millimeters, any size of sheet.

No size of paper is named, so that A4 and letter both print at 100 %; what must fit one sheet
fits the smaller width (210 mm) and the smaller height (279 mm). Leans on nothing.
"""

_SHEET = """
*{box-sizing:border-box}
html{color-scheme:light;background:#fff;-webkit-text-size-adjust:100%}
body{margin:0 auto;max-width:MAXmm;padding:5mm;background:#fff;color:#000;
font:10.5pt/1.4 system-ui,-apple-system,"Segoe UI",Roboto,"DejaVu Sans",sans-serif}
h1{font-size:16pt;line-height:1.2;margin:0 0 2mm}
h2{font-size:12.5pt;margin:5mm 0 2mm;break-after:avoid}
h1,h2,p,li,dd,dt,td,th,caption{overflow-wrap:anywhere}
p,ul,dl{margin:1.5mm 0}
ul{padding-left:6mm}
dt{font-weight:600}dd{margin:0 0 1.5mm 4mm}
.banner{border:2px solid #000;font-weight:700;padding:1.5mm 3mm}
.note{border:1px solid #000;border-left-width:5px;padding:1.5mm 3mm;break-inside:avoid}
.blank{display:flex;flex-wrap:wrap;gap:4mm 6mm;margin:4mm 0}
.blank>span,.running span{white-space:nowrap}
.line{display:inline-block;border-bottom:1px solid #000;width:34mm;margin-left:2mm}
.running .line{width:26mm}
.running>td>span{display:inline-block;margin-right:5mm}
.checks{list-style:none;padding:0}
.checks li{padding:1mm 0 1mm 8mm;position:relative;break-inside:avoid}
.box{display:inline-block;width:3.2mm;height:3.2mm;border:1.2px solid #000;background:#fff;
vertical-align:-.4mm;margin-right:1mm}
.checks .box{position:absolute;left:0;top:1.9mm;width:4.4mm;height:4.4mm}
.tick{display:inline-block;white-space:nowrap;font-size:8pt;margin-right:1.6mm}
.scroll{overflow-x:auto}
.scroll:focus-visible{outline:3px solid #000;outline-offset:2px}
table{border-collapse:collapse;width:100%;font-size:9.5pt}
caption{text-align:left;font-weight:600;padding:1mm 0}
th,td{border:1px solid #555;padding:.8mm 1.4mm;text-align:left;vertical-align:middle}
thead th{border-bottom:2px solid #000;vertical-align:bottom;background:#eee}
th small{display:block;font-weight:400;font-size:7.5pt}
thead{display:table-header-group}
tr{break-inside:avoid}
.form td{height:7.5mm}
.form td.told{font-weight:600;white-space:nowrap}
.form .running td{border:0;font-weight:400;height:8mm}
.group th{background:#eee;border-top:2px solid #000;break-after:avoid}
pre{border:1px solid #555;padding:2mm;overflow-x:auto;font-size:9pt;white-space:pre-wrap;
overflow-wrap:anywhere}
.drawing svg{display:block;width:100%;height:auto;background:#fff;max-height:TALLmm}
.labels{display:grid;justify-content:center;gap:0}
.label{border:1px dashed #777;display:flex;align-items:center;gap:2mm;padding:1.5mm;
overflow:hidden;break-inside:avoid}
.label svg{height:100%;max-height:24mm;aspect-ratio:1;flex:none}
.label .words{min-width:0}
.label p{margin:0;font-size:8pt;line-height:1.2}
.label .code{font:700 13pt/1.2 "DejaVu Sans Mono",Consolas,Menlo,monospace}
footer{margin-top:4mm;border-top:1px solid #000;font-size:8.5pt}
@media screen and (max-width:52rem){.labels{grid-template-columns:minmax(0,1fr)!important}}
@media screen{.scroll{margin:2mm 0}.labels{justify-content:stretch}
.labels+.labels{margin-top:6mm}}
@media print{body{max-width:none;padding:0}.scroll{overflow:visible}
.labels{break-after:page}section.page{break-before:page}a{color:#000}}
@page{ORIENTATIONmargin:10mm 10mm 12mm;@bottom-right{content:counter(page) " / " counter(pages);
font:8pt sans-serif}}
"""


def print_style(*, landscape: bool) -> str:
    """Return the style sheet, upright or lying."""
    sheet = _SHEET.replace("ORIENTATION", "size:landscape;" if landscape else "")
    if landscape:  # little room is left under the rules: its head alone would stand there
        sheet += "@media print{.scroll:has(.form){break-before:page}}"
    return (
        sheet.replace("TALL", "135" if landscape else "190")
        .replace("MAX", "277" if landscape else "200")
        .replace("\n", "")
    )
