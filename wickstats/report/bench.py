"""Pieces of cord: their lines in pictures, how they differ, every piece.

With several factors the lines are looked at by the first factor; volumes, which differ most
by how a piece was set up, have a picture for each level of the others. Leans on pages and core.
"""

from collections.abc import Iterator

from wickstats.core.bench import Bench, BenchPiece
from wickstats.core.numbers import MISSING, number, with_interval
from wickstats.core.responses import ResponseResult
from wickstats.core.words import say
from wickstats.layout.plots import TREATMENT_JOIN
from wickstats.pages.blocks import Block, Picture, Section, Table, Text
from wickstats.pages.figures.bench import piece_lines
from wickstats.pages.figures.palette import looks
from wickstats.report.drawn import both
from wickstats.report.facts import Scene, capital, capped, heads, listed


def bench_section(scene: Scene, response: ResponseResult, stem: str) -> Section | None:
    """Pictures, variation between pieces, and the tables; None away from the bench."""
    found = response.bench
    if found is None or not found.pieces:
        return None
    blocks: list[Block] = [*_pictures(scene, response, found, stem)]
    blocks.append(Text(_variation(found)))
    blocks.append(_spread(response, found))
    blocks.append(capped(_pieces(response, found), f"{stem}-pieces.csv"))
    return Section(say("bench title"), tuple(blocks))


def _pictures(
    scene: Scene, response: ResponseResult, found: Bench, stem: str
) -> Iterator[Picture]:
    factors = list(scene.results.trial.factors.values())
    drawn = [p for p in found.pieces if p.readings]
    if not drawn:
        return
    arms = factors[0] if len(factors) > 1 else scene.arms
    held: dict[str, list[BenchPiece]] = {}
    # in the order in which the trial names its treatments
    for piece in sorted(drawn, key=lambda p: scene.arms.index(p.treatment)):
        rest = (
            TREATMENT_JOIN.join(piece.treatment.split(TREATMENT_JOIN)[1:])
            if len(factors) > 1
            else ""
        )
        held.setdefault(rest if found.quantity == "volume" else "", []).append(piece)
    for k, (setting, pieces) in enumerate(held.items(), start=1):
        groups = {p.piece: p.treatment.partition(TREATMENT_JOIN)[0] for p in pieces}
        wide, narrow = both(
            piece_lines,
            pieces,
            groups,
            [arm for arm in arms if arm in groups.values()],
            looks(tuple(arms)),
            found.quantity,
        )
        key = "rise" if found.quantity == "height" else "flow"
        name = capital(response.name) + (f" ({setting})" if setting else "")
        yield Picture(
            f"{stem}-pieces.svg" if len(held) == 1 else f"{stem}-pieces-{k}.svg",
            wide,
            say(f"bench picture {key}", name=name),
            say(
                "bench picture words" if key == "rise" else "bench picture flow words",
                list=listed(_told(pieces, groups, list(arms), found.measured_in)),
            ),
            narrow,
            (f"{stem}-readings.csv", f"{stem}-pieces.csv"),
        )


def _told(
    pieces: list[BenchPiece], groups: dict[str, str], arms: list[str], unit: str
) -> list[str]:
    out = []
    for arm in arms:
        values = [p.value for p in pieces if groups[p.piece] == arm and p.value is not None]
        if values:
            mean = number(sum(values) / len(values))
            out.append(say("bench told", treatment=arm, value=mean, unit=unit))
    return out


def _variation(found: Bench) -> str:
    if found.piece_cv is None:
        return say("bench cv open", why=found.spread_not_estimable or MISSING)
    low, high = found.piece_cv_low or 0.0, found.piece_cv_high or 0.0
    told, between = with_interval(100 * found.piece_cv, 100 * low, 100 * high)
    return say("bench cv", cv=told, between=between, df=found.df)


def _spread(response: ResponseResult, found: Bench) -> Table:
    """How many pieces and coils, their mean, and what nine of ten stay below."""
    rise = found.quantity == "height"
    last = "at top" if rise else "nine in ten"
    return Table(
        say("bench spread caption", name=capital(response.name)),
        heads(
            "treatment",
            "pieces",
            "coils",
            "bench mean",
            last,
            numeric=range(1, 5),
            unit=found.measured_in,
        ),
        tuple(
            (
                row.treatment,
                str(row.pieces),
                str(row.coils) if row.coils else MISSING,
                number(row.mean),
                str(row.at_top) if rise else number(row.nine_in_ten_below),
            )
            for row in found.spread
        ),
        say("bench spread note plain" if rise else "bench spread note"),
    )


def _pieces(response: ResponseResult, found: Bench) -> Table:
    rise = found.quantity == "height"
    own = () if rise else ("head", "temperature", "evaporated", "factor")
    return Table(
        say("bench pieces caption", name=capital(response.name)),
        heads(
            "piece",
            "coil",
            "run",
            "treatment",
            "value in",
            *own,
            numeric=range(4, 5 + len(own)),
            unit=found.measured_in,
        ),
        tuple(_piece(p, rise=rise) for p in found.pieces),
    )


def _piece(piece: BenchPiece, *, rise: bool) -> tuple[str, ...]:
    told = number(piece.value) if piece.value is not None else piece.reason or MISSING
    if piece.at_least:
        told = say("at least value", value=told)
    own = (
        ()
        if rise
        else (
            number(piece.head_mm),
            number(piece.temperature_c),
            number(piece.evaporation_ml_h),
            number(piece.flow_factor),
        )
    )
    return (piece.piece, piece.coil or MISSING, piece.run, piece.treatment, told, *own)
