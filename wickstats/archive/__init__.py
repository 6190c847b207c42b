"""A season's folder: results.json in and out, tables, inputs, the manifest.

``results_file`` reads and writes results.json, ``schema`` describes it,
``tables`` makes the CSV files, ``manifest`` lists and checks what a folder
holds, ``folder`` writes it whole or not at all. Leans on core.
"""
