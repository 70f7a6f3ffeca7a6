"""How the second ear's head is made: speech synthesised here, made rough, and a small model fitted.

Nothing in this package is needed to run a check. It needs the packages of the extra ``train``.
"""
