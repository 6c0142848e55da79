"""The packet on paper: sections of plain blocks, laid out by typst from JSON, never from markup that holds data.

A new page is a function that returns a ``Section`` (see ``blocks``), listed in ``document.sections``; the layout in
``packet.typ`` knows kinds of blocks and nothing of rigs.
"""
