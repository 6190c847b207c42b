"""Square lattices: k x k labels in blocks of k, by rows, columns and orthogonal squares.

Replicate 1 takes the rows of a k x k array of labels as blocks, replicate 2 its columns,
each further one the letters of a Latin square orthogonal to those before (Yates 1936,
Journal of Agricultural Science 26, 424-455; from memory). With k prime the squares are
a row + column mod k; for k = 4 they come from the field of four elements. Two labels meet at
most once, and k + 1 replicates give a balanced plan. Cut lattices leave out whole blocks of
one replicate, so that every other block loses as many labels: s k labels in s blocks of k < s
(as alpha designs with a full array do: Patterson & Williams 1976; from memory). Standard
library only.
"""

Plan = list[list[int]]
# product in the field {0, 1, 2, 3}: 2 * 2 = 3, 2 * 3 = 1; its sum is the exclusive or
_FOUR = ((0, 0, 0, 0), (0, 1, 2, 3), (0, 2, 3, 1), (0, 3, 1, 2))


def most_replicates(size: int) -> int:
    """Replicates for which a lattice with blocks of that size is known here."""
    if size == 4 or _prime(size):
        return size + 1
    return 3 if size >= 3 else 0


def square_lattice(size: int, replicates: int) -> Plan:
    """Blocks of the replicates, one after another (ValueError where none is known)."""
    if not 2 <= replicates <= most_replicates(size):
        raise ValueError("no lattice is known for that size")
    cells = [(row, column) for row in range(size) for column in range(size)]
    plan: Plan = []
    for replicate in range(replicates):
        blocks: Plan = [[] for _ in range(size)]
        for row, column in cells:
            blocks[_letter(size, replicate, row, column)].append(row * size + column)
        plan.extend(blocks)
    return plan


def cut_lattice(blocks: int, size: int, replicates: int) -> Plan | None:
    """Resolvable plan, so many blocks of ``size`` a replicate; None where none is known."""
    field = blocks == 4 or _prime(blocks)
    if not field or size > blocks or replicates > blocks:
        return None
    plan: Plan = [[] for _ in range(replicates * blocks)]
    for replicate in range(replicates):
        for group in range(size):
            for i in range(blocks):
                if blocks == 4:
                    j = i ^ _FOUR[replicate][group]
                else:
                    j = (i - replicate * group) % blocks
                plan[replicate * blocks + j].append(group * blocks + i)
    return plan


def _letter(size: int, replicate: int, row: int, column: int) -> int:
    if replicate == 0:
        return row
    if replicate == 1:
        return column
    if size == 4:
        return _FOUR[replicate - 1][row] ^ column
    return ((replicate - 1) * row + column) % size


def _prime(number: int) -> bool:
    return number > 1 and all(number % d for d in range(2, int(number**0.5) + 1))
