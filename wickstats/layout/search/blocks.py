"""Plans for incomplete blocks: searched, the same on every machine.

Labels are interchanged between blocks (inside replicates where the plan is resolvable);
an interchange is kept when it does not worsen the plan by more than a threshold that
sinks to zero (threshold accepting: Dueck & Scheuer 1990, Journal of Computational Physics
90, 161-175; from memory). First the sum of squared concurrences sinks, which is least in
a balanced plan; plans that cannot be balanced are then improved on ``Criterion``. All
decisions are taken on whole numbers with our own stream. Leans on criterion, cyclic,
lattices and stream.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wickstats.layout.search.criterion import Criterion, Ints, connected, counts
from wickstats.layout.search.cyclic import cyclic_plan
from wickstats.layout.search.lattices import cut_lattice
from wickstats.layout.stream import Stream

Plan = list[list[int]]
THRESHOLDS = (4, 2, 1, 1, 0, 0)
LONG_STARTS, LONG_TRIES = 4, 40_000  # where a balanced plan may exist
FINE = (24, 12, 8, 5, 3, 2, 1, 0)  # of 10,000


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to search: starts, interchanges in each; how many are refined, and how long."""

    starts: int = 60
    tries: int = 3_000
    refined: int = 3
    fine: int = 4_000

    @classmethod
    def for_labels(cls, labels: int) -> "Effort":
        """Less for many labels: a value costs as much as their third power."""
        return cls(fine=max(100, 4_000 * 30**3 // max(30, labels) ** 3))


def search_blocks(
    replications: Sequence[int], size: int, *, resolvable: bool, effort: Effort | None = None
) -> Plan:
    """A plan of blocks of ``size`` in which label i stands ``replications[i]`` times.

    Resolvable plans list the replicates' blocks one after another.

    Raises
    ------
    ValueError
        Where the plots do not fill blocks, or no plan connects the labels.
    """
    plots, labels = sum(replications), len(replications)
    if plots % size or (resolvable and labels % size):
        raise ValueError("the plots do not fill blocks of that size")
    effort = effort or Effort.for_labels(labels)
    kind = "resolvable" if resolvable else "blocks"
    words = ",".join(map(str, replications))
    stream = Stream(0, f"search:{kind}:{size}:{words}")
    judge = Criterion(replications, size)
    step = labels // size if resolvable else plots // size
    found: list[tuple[int, Plan]] = []
    for _ in range(effort.starts):
        start = _start(replications, size, stream, resolvable=resolvable)
        state = _Blocks(start, labels, step)
        even = _settle(state, stream, effort.tries)
        if connected(state.plan, labels):
            found.append((judge.value(state.concurrence()), state.plan))
            if even and state.balanced():
                return [sorted(block) for block in state.plan]
    for known in _known(replications, size, step, resolvable=resolvable):
        state = _Blocks(known, labels, step)
        if state.balanced():
            return [sorted(block) for block in known]
        if connected(known, labels):
            found.append((judge.value(state.concurrence()), known))
    if not resolvable and _may_balance(replications, size):
        found.extend(_long_starts(replications, size, stream, judge))
    if not found:
        raise ValueError("no plan connects the labels")
    found.sort(key=lambda item: item[0])
    finer = [
        _refine(p, labels, judge, stream, effort.fine, step) for _, p in found[: effort.refined]
    ]
    _, best = min((*found, *finer), key=lambda item: item[0])
    return [sorted(block) for block in best]


def _may_balance(replications: Sequence[int], size: int) -> bool:
    """Whether equal concurrences would be a whole number (none need exist for that)."""
    t, r = len(replications), replications[0]
    alike = len(set(replications)) == 1
    return alike and r * (size - 1) % (t - 1) == 0 and r >= size


def _long_starts(
    replications: Sequence[int], size: int, stream: Stream, judge: Criterion
) -> list[tuple[int, Plan]]:
    """A balanced plan from one of a few long starts, or none."""
    labels = len(replications)
    step = sum(replications) // size
    for _ in range(LONG_STARTS):
        state = _Blocks(_start(replications, size, stream, resolvable=False), labels, step)
        if _settle(state, stream, LONG_TRIES) and state.balanced():
            return [(judge.value(state.concurrence()), state.plan)]
    return []


def _known(
    replications: Sequence[int], size: int, step: int, *, resolvable: bool
) -> list[Plan]:
    """Constructed plans of that size, which compete with those found from random starts."""
    each = replications[0]
    if len(set(replications)) > 1:
        return []
    if resolvable:
        cut = cut_lattice(step, size, each)
        return [] if cut is None else [cut]
    return [cyclic_plan(len(replications), size, each // size)] if each % size == 0 else []


def _start(replications: Sequence[int], size: int, stream: Stream, *, resolvable: bool) -> Plan:
    """A random plan with as few repeats in a block as the replications leave."""
    labels = range(len(replications))
    if resolvable:
        plan: Plan = []
        for _ in range(replications[0]):
            order = stream.shuffled(labels)
            plan.extend(order[i : i + size] for i in range(0, len(order), size))
        return plan
    blocks = sum(replications) // size
    # deal the labels out, most replicated first, each to the blocks with most room
    order = stream.shuffled(labels)
    order.sort(key=lambda label: -replications[label])
    plan = [[] for _ in range(blocks)]
    for label in order:
        places = stream.shuffled(range(blocks))
        for _ in range(replications[label]):
            j = min(places, key=lambda b: (plan[b].count(label), len(plan[b])))
            if len(plan[j]) >= size:
                open_ones = [b for b in places if len(plan[b]) < size]
                j = min(open_ones, key=lambda b: (plan[b].count(label), len(plan[b])))
            plan[j].append(label)
    return plan


class _Blocks:
    """A plan with its concurrences."""

    def __init__(self, plan: Plan, labels: int, step: int) -> None:
        self.plan = plan
        self.labels = labels
        self.step = step  # blocks of one replicate
        n = counts(plan, labels)
        both: list[list[int]] = (n @ n.T).tolist()
        self.both = both

    def concurrence(self) -> Ints:
        return np.array(self.both, dtype=np.int64)

    def balanced(self) -> bool:
        """Whether all concurrences are equal."""
        return self._range() == 0

    def even(self) -> bool:
        """Whether no two concurrences differ by more than one."""
        return self._range() <= 1

    def _range(self) -> int:
        rows = [self.both[u][:u] for u in range(1, self.labels)]
        return max(map(max, rows)) - min(map(min, rows))

    def propose(self, stream: Stream) -> tuple[int, int, int, int] | None:
        """Block, place, block, place of two labels that may change places."""
        blocks = len(self.plan)
        a = stream.below(blocks)
        first = a - a % self.step
        b = first + stream.below(self.step)
        if a == b:
            return None
        i, j = stream.below(len(self.plan[a])), stream.below(len(self.plan[b]))
        x, y = self.plan[a][i], self.plan[b][j]
        if x == y or x in self.plan[b] or y in self.plan[a]:
            return None
        return a, i, b, j

    def change(self, a: int, i: int, b: int, j: int) -> int:
        """Half of what the sum of squared concurrences would grow by."""
        first, second = self.plan[a], self.plan[b]
        lx, ly = self.both[first[i]], self.both[second[j]]
        total = 0
        for u in first:
            if u not in second:
                total += ly[u] - lx[u] + 1
        for v in second:
            if v not in first:
                total += lx[v] - ly[v] + 1
        x, y = first[i], second[j]
        # the two labels themselves do not count
        return total - (ly[x] - lx[x] + 1) - (lx[y] - ly[y] + 1)

    def swap(self, a: int, i: int, b: int, j: int) -> None:
        first, second = self.plan[a], self.plan[b]
        x, y = first[i], second[j]
        for u in first:
            if u != x:
                self._add(x, u, -1)
                self._add(y, u, 1)
        for v in second:
            if v != y:
                self._add(y, v, -1)
                self._add(x, v, 1)
        first[i], second[j] = y, x

    def _add(self, u: int, v: int, by: int) -> None:
        self.both[u][v] += by
        self.both[v][u] += by


def _settle(state: _Blocks, stream: Stream, tries: int) -> bool:
    """Sink the sum of squared concurrences; True when they are as even as can be."""
    each = tries // len(THRESHOLDS)
    for threshold in THRESHOLDS:
        for _ in range(each):
            move = state.propose(stream)
            if move is None:
                continue
            change = state.change(*move)
            if change <= threshold:
                state.swap(*move)
                if change < 0 and state.even():
                    return True
    return state.even()


def _refine(
    plan: Plan, labels: int, judge: Criterion, stream: Stream, tries: int, step: int
) -> tuple[int, Plan]:
    """Interchanges judged by the whole criterion; the best plan met on the way."""
    state = _Blocks([list(block) for block in plan], labels, step)
    now = least = judge.value(state.concurrence())
    best = plan
    for part in FINE:
        for _ in range(tries // len(FINE)):
            move = state.propose(stream)
            if move is None:
                continue
            state.swap(*move)
            value = judge.value(state.concurrence())
            if value * 10_000 > now * (10_000 + part):
                state.swap(*move)
                continue
            now = value
            if value < least and connected(state.plan, labels):
                best, least = [list(block) for block in state.plan], value
    return least, best
