"""Row-column plans whose rows hold every label equally often (Youden squares and alike).

Where the columns are a multiple of the labels, a plan of blocks becomes the columns, and
inside each column the labels are ordered so that every row is complete. That is always
possible: the columns and the (copies of the) labels make a regular graph, which falls into
perfect matchings (Koenig 1916; Smith & Hartley 1948, Journal of the Royal Statistical Society B
10, 262-263; from memory). Standard library only.
"""

from collections.abc import Sequence

Plan = list[list[int]]


def complete_rows(blocks: Sequence[Sequence[int]], labels: int) -> Plan:
    """Rows of the array whose columns are ``blocks``, each row complete.

    Raises
    ------
    ValueError
        Where the blocks are no multiple of the labels, or labels are not alike often.
    """
    size, columns = len(blocks[0]), len(blocks)
    copies = columns // labels
    if columns % labels:
        raise ValueError("the columns are no multiple of the labels")
    # each label's places in the blocks, dealt to its copies in turn
    edges: list[list[tuple[int, int]]] = []
    seen = [0] * labels
    for block in blocks:
        edges.append([])
        for label in block:
            edges[-1].append((label, seen[label] // size))
            seen[label] += 1
    if any(count != size * copies for count in seen):
        raise ValueError("labels are not alike often")
    rows: Plan = []
    for _ in range(size):
        chosen = _matching(edges)
        rows.append([label for label, _ in chosen])
        for left, taken in zip(edges, chosen, strict=True):
            left.remove(taken)
    return rows


def _matching(edges: list[list[tuple[int, int]]]) -> list[tuple[int, int]]:
    """One edge a block, no copy of a label twice (augmenting paths, Kuhn 1955)."""
    holder: dict[tuple[int, int], int] = {}

    def place(block: int, tried: set[tuple[int, int]]) -> bool:
        for item in edges[block]:
            if item in tried:
                continue
            tried.add(item)
            if item not in holder or place(holder[item], tried):
                holder[item] = block
                return True
        return False

    for block in range(len(edges)):
        if not place(block, set()):
            raise ValueError("labels are not alike often")
    out: dict[int, tuple[int, int]] = {block: item for item, block in holder.items()}
    return [out[block] for block in range(len(edges))]
