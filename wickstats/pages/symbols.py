"""Machine-readable symbols: QR codes (ISO/IEC 18004) as SVG, by segno.

Plain QR and not its small form, since telephones read it. A quarter of the symbol may be
soiled (level Q), more where that costs no size. Leans on segno.
"""

from typing import Any

QUIET = 4  # modules of white around a symbol, as the standard asks


def symbol(text: str) -> Any:
    """The symbol of a text, as segno's QR code."""
    import segno

    return segno.make_qr(text, error="q", boost_error=True)


def symbol_svg(text: str) -> str:
    """The symbol as SVG to stand in a page; hidden from readers, the text stands beside."""
    matrix = symbol(text).matrix
    side = len(matrix) + 2 * QUIET
    runs: list[str] = []
    for y, row in enumerate(matrix):
        x = 0
        while x < len(row):
            end = x
            while end < len(row) and row[end]:
                end += 1
            if end > x:
                runs.append(f"M{x + QUIET} {y + QUIET}h{end - x}v1h-{end - x}z")
            x = end + 1
    return (
        f'<svg aria-hidden="true" viewBox="0 0 {side} {side}" shape-rendering="crispEdges">'
        f'<path fill="#fff" d="M0 0h{side}v{side}h-{side}z"/>'
        f'<path d="{"".join(runs)}"/></svg>'
    )
