"""Papers for the crew: map, field sheets, labels, checklist, sealed key; written as one folder.

``ground`` finds places and the walking order, ``tables`` what each sheet asks, the others
make the papers, ``write`` puts the folder together. Leans on pages, records and layout.
"""
