"""Pictures as SVG: one module a kind of picture, matplotlib only inside functions."""
