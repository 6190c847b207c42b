"""The report: one page for grower, scientist and reviewer, and the folder behind it.

``write`` composes page, pictures and archive. The other modules each make one
part of the page as content blocks; sentences stand in ``core.words``.
"""
