"""Third line: re-randomization of the labels on the same unit summaries.

A term redraws the whole layout under its scheme: labels inside blocks; every Latin square;
incomplete blocks and arrays by moving blocks, rows, columns and what stands inside them;
in several strata the labels of the term's own pieces inside the pieces they lie in. Layouts
that the trial's restrictions do not allow are left out, with all other labels where they
are. A pair
of treatments moves only its own labels inside blocks; contrasts of several treatments, and
pairs in Latin squares, arrays and where strips cross, have the term's p only. Nothing is
redrawn where labels were not given at random, where units span blocks, or where arms hold
different numbers of plots on a reservoir. Leans on models.redraw.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.plan import Term
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.responses import Redraws
from wickstats.core.words import say
from wickstats.models.linear.contrasts import cell_codes, term_rows
from wickstats.models.linear.geometry import piece_means
from wickstats.models.redraw.moves import (
    Step,
    arrays_move,
    block_steps,
    relabelings,
    singles,
)
from wickstats.models.redraw.pairs import redraw_pair
from wickstats.models.redraw.terms import Allowed, redraw_term, whole_plot_values
from wickstats.models.redraw.whole import Scheme, latin_scheme, moves_scheme, redraw_whole

TERM_ONLY = ("Latin square", "row-column")


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """One stratum's pieces with a value each."""

    values: Array
    cells: IntArray
    lost: NDArray[np.bool_]
    group: IntArray | None  # labels move inside; None: anywhere
    rows: Array  # (t_k, t): weights of cells to weights of the pieces' cells
    space: Array | None  # (t_k, t_k): projector on the main effects, where only they count


@dataclass(frozen=True, slots=True, eq=False)
class Redrawer:
    """Re-randomization of one summary."""

    units: Units
    summary: Summary
    design: str
    seed: int | str
    stream: str
    barred: str | None
    allowed: Allowed | None

    @property
    def _lost(self) -> NDArray[np.bool_]:
        product: NDArray[np.bool_] = ~self.summary.used
        return product

    def term(self, term: Term) -> Redraws:
        """Of a treatment term."""
        if self.barred:
            return _none(self.barred)
        rows = term_rows(self.units.shape, term.factors)
        stream = _ascii(f"{self.stream}:{term.name}")
        if not self.units.is_split:
            return self._one_stratum(rows, stream)
        k = self.units.stratum_of(term.factors)
        if len(self.units.strata[k].within) > 1:
            return self._crossing(k, rows, stream)
        pieces = self._pieces(k)
        if self.summary.covariate is not None:
            group = np.zeros(pieces.cells.size, dtype=np.int64)
            group = group if pieces.group is None else pieces.group
            return self._beside_covariate(k, rows, stream, singles(group), [group])
        return redraw_term(
            pieces.values,
            pieces.cells,
            rows @ pieces.rows.T,
            blocks=pieces.group,
            lost=pieces.lost,
            space=pieces.space,
            seed=self.seed,
            stream=stream,
            allowed=self._completed(k),
        )

    def contrast(
        self, name: str, cells: tuple[int, int] | None, weights: Array, side: int = 0
    ) -> Redraws:
        """Of two treatments, or of two levels where pieces hold one level each.

        ``side``: 1 or -1 where only more or only less is asked for.
        """
        if self.barred:
            return _none(self.barred)
        if not self.units.is_split:
            return self._pair(name, cells, side)
        found = self.units.strata_of(weights)
        if len(found) != 1:
            return _none(say("redraw two strata" if cells else "redraw several arms"))
        if len(self.units.strata[found[0]].within) > 1:
            return _none(say("redraw term only"))
        pieces = self._pieces(found[0])
        part = pieces.rows @ weights
        part[np.abs(part) < 1e-9 * np.abs(part).max()] = 0.0
        if np.count_nonzero(part) != 2:
            return _none(say("redraw several arms"))
        pair = int(np.argmax(part)), int(np.argmin(part))
        if not {*pieces.cells.tolist()}.issuperset(pair):
            return _none(say("redraw not laid out"))
        return redraw_pair(
            pieces.values,
            pieces.cells,
            pair,
            blocks=pieces.group,
            lost=pieces.lost,
            side=side,
            seed=self.seed,
            stream=_ascii(f"{self.stream}:{name}"),
            allowed=self._completed(found[0]),
        )

    def _pair(self, name: str, cells: tuple[int, int] | None, side: int) -> Redraws:
        if cells is None:
            return _none(say("redraw several arms"))
        if self.design in TERM_ONLY:
            return _none(say("redraw term only"))
        if not {*self.units.cells.tolist()}.issuperset(cells):
            return _none(say("redraw not laid out"))
        return redraw_pair(
            self.summary.values,
            self.units.cells,
            cells,
            blocks=self.units.block_codes,
            lost=self._lost,
            side=side,
            seed=self.seed,
            stream=_ascii(f"{self.stream}:{name}"),
            allowed=self.allowed,
        )

    def _one_stratum(self, rows: Array, stream: str) -> Redraws:
        units, summary = self.units, self.summary
        plain = self.design in ("completely randomized", "randomized complete block")
        if plain and summary.covariate is None:
            return redraw_term(
                summary.values,
                units.cells,
                rows,
                blocks=units.block_codes,
                lost=self._lost,
                space=units.space,
                seed=self.seed,
                stream=stream,
                allowed=self.allowed,
            )
        scheme = self._scheme()
        if scheme is None:
            return _none(say("redraw no array"))
        fixed = [shares for _, shares in units.grounds]
        if summary.covariate is not None:
            known = np.where(self._lost, 0.0, summary.covariate)
            fixed.append((known - known.mean())[:, None])
        return redraw_whole(
            summary.values,
            units.cells,
            rows,
            scheme,
            fixed=np.hstack([np.zeros((units.n, 0)), *fixed]),
            n_cells=units.n_cells,
            lost=self._lost,
            space=units.space,
            seed=self.seed,
            stream=stream,
            allowed=self.allowed,
        )

    def _scheme(self) -> Scheme | None:
        units = self.units
        if self.design == "Latin square":
            squares = _squares(units)
            return None if squares is None else latin_scheme(units.cells, squares)
        steps: list[Step] = []
        # names of treatments matter only where a term is not all of their differences
        names = relabelings(units.cells, units.n_cells) if len(units.factors) > 1 else []
        if self.design == "row-column":
            rows, columns = _ground(units, "row"), _ground(units, "column")
            arrays = _ground(units, "replicate")
            if rows is None or columns is None:
                return None
            whole = np.zeros(units.n, dtype=np.int64) if arrays is None else arrays
            moved = arrays_move(rows, columns, whole)
            if moved is None:
                return None
            steps.extend(moved)
        elif self.design == "incomplete block" and units.block_codes is not None:
            steps.extend(block_steps(units.block_codes, _ground(units, "replicate")))
        else:
            codes = units.block_codes
            steps.extend(singles(np.zeros(units.n, dtype=np.int64) if codes is None else codes))
            names = []
        return moves_scheme(units.cells, [*steps, *names])

    def _pieces(self, k: int) -> Pieces:
        units = self.units
        stratum = units.strata[k]
        first = np.unique(stratum.codes, return_index=True)[1]
        group = units.block_codes
        if stratum.within:
            group = units.strata[stratum.within[0]].codes
        if k == len(units.strata) - 1:
            values, lost = self.summary.values, self._lost
        else:
            hidden = [f for f in range(len(units.factors)) if f not in stratum.factors]
            inside = cell_codes(units.cells, units.shape, hidden)
            values, lost = whole_plot_values(
                self.summary.values, stratum.codes, inside, self._lost
            )
        return Pieces(
            values,
            cell_codes(units.cells, units.shape, stratum.factors)[first],
            lost,
            None if group is None else group[first],
            units.splits[k],
            units.space_of(stratum.factors),
        )

    def _crossing(self, k: int, rows: Array, stream: str) -> Redraws:
        """Where strips cross: whole strips of both directions change places in blocks."""
        stratum = self.units.strata[k]
        first = np.unique(stratum.codes, return_index=True)[1]
        strips = [self.units.strata[j].codes[first] for j in stratum.within]
        blocks = self.units.block_codes
        inside = np.zeros(first.size, dtype=np.int64) if blocks is None else blocks[first]
        steps = arrays_move(strips[0], strips[1], inside, whole=False)
        if steps is None:
            return _none(say("redraw no array"))
        return self._beside_covariate(k, rows, stream, steps, strips)

    def _beside_covariate(
        self, k: int, rows: Array, stream: str, steps: Sequence[Step], groups: list[IntArray]
    ) -> Redraws:
        """Pieces of a stratum moved, with groups and the covariate's means fixed."""
        pieces = self._pieces(k)
        fixed = [_marks(codes) for codes in groups]
        if self.summary.covariate is not None:
            known = np.where(self._lost, 0.0, self.summary.covariate)
            codes = self.units.strata[k].codes
            piece = np.unique(codes, return_inverse=True)[1].reshape(-1)
            fixed.append(piece_means(known, piece)[:, None])
        return redraw_whole(
            pieces.values,
            pieces.cells,
            rows @ pieces.rows.T,
            moves_scheme(pieces.cells, steps),
            fixed=np.hstack(fixed),
            n_cells=len(pieces.rows),
            lost=pieces.lost,
            space=pieces.space,
            seed=self.seed,
            stream=stream,
            allowed=self._completed(k),
        )

    def _completed(self, k: int) -> Allowed | None:
        """Which labels of one stratum's pieces are allowed, all others where they are."""
        if self.allowed is None:
            return None
        units, stratum, whole = self.units, self.units.strata[k], self.allowed
        piece = np.unique(stratum.codes, return_inverse=True)[1].reshape(-1)
        here = np.unravel_index(units.cells, units.shape)
        sizes = [units.shape[f] for f in stratum.factors]

        def completed(layouts: IntArray) -> NDArray[np.bool_]:
            own = np.unravel_index(layouts[:, piece], sizes)
            levels = [np.broadcast_to(held, own[0].shape) for held in here]
            for f, moved in zip(stratum.factors, own, strict=True):
                levels[f] = moved
            codes = np.ravel_multi_index(tuple(levels), units.shape)
            return np.asarray(whole(codes), dtype=np.bool_)

        return completed


def _squares(units: Units) -> list[IntArray] | None:
    """Positions (p, p) of each square; None where one is not a Latin square."""
    rows, columns = _ground(units, "row"), _ground(units, "column")
    if rows is None or columns is None:
        return None
    square = _ground(units, "square")
    codes = np.zeros(units.n, dtype=np.int64) if square is None else square
    out = []
    for k in np.unique(codes):
        spots = np.flatnonzero(codes == k)
        r = np.unique(rows[spots], return_inverse=True)[1].reshape(-1)
        c = np.unique(columns[spots], return_inverse=True)[1].reshape(-1)
        order = int(r.max()) + 1
        table = np.full((order, int(c.max()) + 1), -1, dtype=np.int64)
        table[r, c] = spots
        if table.shape != (order, order) or (table < 0).any() or spots.size != order**2:
            return None
        held = np.sort(units.cells[table], axis=1)
        across = np.sort(units.cells[table], axis=0)
        if (held != held[0]).any() or (across != across[:, :1]).any():
            return None
        out.append(table)
    names = [set(units.cells[table[0]].tolist()) for table in out]
    return out if all(found == names[0] for found in names) else None


def _ground(units: Units, name: str) -> IntArray | None:
    shares = next((shares for ground, shares in units.grounds if ground == name), None)
    return None if shares is None else np.asarray(shares.argmax(axis=1), dtype=np.int64)


def _marks(codes: IntArray) -> Array:
    product: Array = (codes[:, None] == np.unique(codes)).astype(float)
    return product


def _ascii(text: str) -> str:
    return text.encode("ascii", "replace").decode("ascii")


def _none(reason: str) -> Redraws:
    return Redraws(None, "none", 0, None, reason)


def barred_because(units: Units) -> str | None:
    """Why nothing can be re-randomized, or None."""
    if units.drawn == "not at random":
        return say("redraw not at random")
    if units.strata[0].name == "coil":
        return say("redraw coils")
    whole = all((shares.max(axis=1) > 1.0 - 1e-9).all() for _, shares in units.grounds)
    if not whole:
        return say("redraw spans blocks")
    return say("redraw uneven reservoirs") if units.uneven_reservoirs else None


def redrawer_for(
    units: Units,
    summary: Summary,
    design: str,
    seed: int | str,
    response: str,
    allowed: Allowed | None = None,
) -> Redrawer:
    """Set up re-randomization of one summary; ``allowed`` takes codes by unit."""
    stream = f"redraws:{response}:{summary.estimand}:{summary.at or ''}"
    barred = barred_because(units)
    kept = allowed is None or np.asarray(allowed(units.cells[None, :]), dtype=bool).all()
    if barred is None and not kept:
        barred = say("redraw keep broken")
    return Redrawer(units, summary, design, seed, stream, barred, allowed)


def seed_of(seed: int | None, identity: str) -> int | str:
    """The layout's seed, or the trial's identity where the layout was drawn elsewhere."""
    return _ascii(identity) if seed is None else seed
