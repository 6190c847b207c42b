"""Blocks of content, tables, pictures and the page's shell: all that draws or templates.

``blocks`` says what a page holds, ``shell`` renders it as one self-contained
HTML page, ``figures`` draws with matplotlib. Leans on core.
"""
