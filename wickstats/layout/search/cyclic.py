"""Cyclic plans: a few initial blocks, each moved on around the circle of labels.

Block {x1, ..., xk} gives the t blocks {x1 + j, ..., xk + j} mod t; labels a apart then meet
as often as the difference a or -a occurs in the initial blocks, so that equal counts of all
differences make a balanced plan (difference sets: Bose 1939, Annals of Eugenics 9,
353-399; cyclic designs: John 1966, Journal of the Royal Statistical Society B 28, 345-360;
both from memory). Elements are exchanged one at a time from random starts until the sum of
squared counts sinks no more. Leans on stream.
"""

from wickstats.layout.stream import Stream

Plan = list[list[int]]
STARTS = 400
COST = 900_000  # fewer starts where one costs more


def cyclic_plan(labels: int, size: int, initial: int) -> Plan:
    """All blocks of the best set of initial blocks that was found."""
    stream = Stream(0, f"search:cyclic:{labels}:{size}:{initial}")
    differences = initial * size * (size - 1)
    best: list[list[int]] = []
    least = 0
    for _ in range(max(3, min(STARTS, COST // (labels * size * size * initial)))):
        blocks = [stream.shuffled(range(labels))[:size] for _ in range(initial)]
        value = _descend(blocks, labels)
        if not best or value < least:
            best, least = blocks, value
        if least * (labels - 1) == differences**2:
            break  # every difference equally often
    return [sorted((x + j) % labels for x in block) for block in best for j in range(labels)]


def _descend(blocks: list[list[int]], labels: int) -> int:
    """Exchange single elements while the sum of squares sinks; the sum reached."""
    counts = [0] * labels
    for block in blocks:
        for x in block:
            for y in block:
                if x != y:
                    counts[(x - y) % labels] += 1
    moved = True
    while moved:
        moved = False
        for block in blocks:
            for i in range(len(block)):
                moved |= _exchange(block, i, counts, labels)
    return sum(n * n for n in counts)


def _exchange(block: list[int], i: int, counts: list[int], labels: int) -> bool:
    """Put the best element in the place of one; False where none is better."""
    x = block[i]
    others = block[:i] + block[i + 1 :]
    for y in others:
        counts[(x - y) % labels] -= 1
        counts[(y - x) % labels] -= 1

    def cost(new: int) -> int:
        added = [d for y in others for d in ((new - y) % labels, (y - new) % labels)]
        total = 0
        for d in added:
            total += 2 * counts[d] + 1
            counts[d] += 1
        for d in added:
            counts[d] -= 1
        return total

    now = cost(x)
    choices = [(cost(new), new) for new in range(labels) if new not in others]
    value, new = min(choices)
    chosen = new if value < now else x
    block[i] = chosen
    for y in others:
        counts[(chosen - y) % labels] += 1
        counts[(y - chosen) % labels] += 1
    return chosen != x
