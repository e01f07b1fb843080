"""The program held against the world outside: validation, honesty of errors, speed, this machine.

`validation/` has a module a subject and a line in `run`; `benches/` a module a part and a line in
`parts`. Figures are measured here and never bent: a bar that is missed is shown as missed.
"""
