"""Sentences about how a layout was drawn, what it keeps, and what it was kept to."""

ENGLISH = {
    "drawn runs": (
        "In each run a piece of every coil for each treatment of pieces, all in random "
        "order; which cord a coil is of was not drawn."
    ),
    "drawn latin": (
        "Each square was drawn so that all {count} Latin squares of order {order} were equally "
        "likely."
    ),
    "drawn latin chain": (
        "Latin squares of order {order} cannot be listed. Each was taken from {steps} steps of "
        "the random walk of Jacobson and Matthews (1996), begun at the cyclic square; then "
        "rows, columns and treatments were put into random orders. All squares are about, "
        "not exactly, equally likely."
    ),
    "drawn split": (
        "Whole-plot treatments were shuffled {where}; the smaller pieces were shuffled anew "
        "inside each larger one."
    ),
    "drawn in blocks": "in each block",
    "drawn over all": "over all whole plots",
    "drawn strips": "Row strips and column strips were shuffled anew in each block.",
    "drawn incomplete": (
        "The plan of blocks is {origin}. Treatments were shuffled over its labels, {parts} over "
        "the ground, and the order in each block was drawn at random."
    ),
    "parts resolvable": "replicates and the blocks in each",
    "parts blocks": "blocks",
    "drawn arrays": (
        "The plan of rows and columns was searched for, the same on every machine. Treatments "
        "were shuffled over its labels, then {parts}."
    ),
    "parts array": "rows and columns",
    "parts arrays": "arrays, and the rows and columns of each",
    "origin lattice": "a square lattice",
    "origin stored": "one kept from a long search",
    "origin searched": "one searched for, the same on every machine",
    "keeps": (
        "{who} keeps {share} of the information of complete blocks; the best possible at this "
        "size is {bound}."
    ),
    "keeps who blocks": "This layout of incomplete blocks",
    "keeps who arrays": "This layout of rows and columns",
    "keeps all": "{who} keeps all the information of complete blocks.",
    "keeps unconnected": (
        "In this layout not all treatments can be compared inside {pieces}: they fall into "
        "{groups} groups that never meet, directly or through others."
    ),
    "pieces blocks": "blocks",
    "pieces lines": "rows and columns",
    "kept to": "Kept to: {words}.",
    "kept share exact": "{allowed} of all {total} layouts are allowed ({share}).",
    "kept share about": (
        "About {share} of all layouts are allowed ({allowed} of {total} layouts drawn to see)."
    ),
    "kept share none": "Fewer than 1 in {total} of all layouts are allowed.",
    "few layouts": (
        "With so few layouts no test by re-randomization can give a p below {p}, however large "
        "the difference. More blocks or replicates would help."
    ),
    "few layouts stratum": (
        "With so few layouts no test by re-randomization can give a p below {p} in the stratum "
        "{stratum}, however large the difference. More blocks or replicates would help."
    ),
    "keeps best": (
        "{who} keeps {share} of the information of complete blocks; no layout of this size "
        "keeps more."
    ),
    "pairs se": (
        "If plots vary as assumed under power, the difference of two treatments in {response} "
        "has a standard error of {se}{which}."
    ),
    "pairs se range": (
        "If plots vary as assumed under power, the difference of two treatments in {response} "
        "has a standard error of {se} on average ({low} to {high}, by pair){which}."
    ),
    "pairs points": "{points} of 100 plants",
    "pairs inside": " inside one {piece}",
}
