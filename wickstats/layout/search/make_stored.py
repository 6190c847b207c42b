"""Find the plans of ``stored.json`` again: ``python -m wickstats.layout.search.make_stored``.

The same search as for any size, with more starts and more refinement. Takes about a
quarter of an hour. Leans on blocks and stored.
"""

import json

from wickstats.core.codec import write_whole
from wickstats.layout.search.blocks import Effort, search_blocks
from wickstats.layout.search.stored import FILE, name_of

LONG = Effort(starts=300, tries=3_000, refined=12, fine=20_000)
# labels, replicates, blocks a replicate
RESOLVABLE = (
    (8, 3, 4),
    (10, 3, 5),
    (12, 2, 4),
    (12, 3, 4),
    (12, 4, 4),
    (12, 3, 3),
    (15, 3, 5),
    (18, 3, 6),
    (20, 3, 5),
    (20, 4, 5),
    (24, 3, 6),
    (24, 4, 6),
    (30, 3, 6),
)
# labels, replicates, block size: balanced plans that short starts miss
BALANCED = ((15, 7, 3), (16, 6, 6))


def main() -> None:
    """Search every size and write the file."""
    plans = {}
    for labels, replicates, blocks in RESOLVABLE:
        size = labels // blocks
        plan = search_blocks([replicates] * labels, size, resolvable=True, effort=LONG)
        plans[name_of(labels, replicates, size, resolvable=True)] = plan
    for labels, replicates, size in BALANCED:
        plan = search_blocks([replicates] * labels, size, resolvable=False, effort=LONG)
        plans[name_of(labels, replicates, size, resolvable=False)] = plan
    lines = ",\n".join(f"{json.dumps(k)}: {json.dumps(v)}" for k, v in plans.items())
    write_whole(FILE, f"{{\n{lines}\n}}\n".encode())


if __name__ == "__main__":
    main()
