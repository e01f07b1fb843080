"""Plans, sections and lists: what stands where, and what it takes.

`records` (drawings in metres, pages in millimetres) and `lines` (lists) are the contract with those who write
files, `deliver.plan_svg`, `plan_dxf`, `plan_pdf` and `pack`: nothing of a scene is in them. `plan` and
`section` draw a scene, `sheet` sets a drawing on a page.
"""
