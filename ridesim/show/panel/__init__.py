"""The panel kit: controls, pictures that follow them, words. Later notebooks only assemble these.

``fields`` and ``drawing`` need no widgets and are used by inputs, computation and pictures; ``controls``, ``picture``, ``messages`` and
``screen`` are the views; ``newest`` says who draws when; ``desk`` and ``tabbed`` are what the panels themselves build on.
"""
