"""A scene in numbers: SI units, nothing implied.

`build.build_stage` makes a `records.Stage` of a scene; the records are the whole contract with the engine and
the sheets, and what they depend on has fingerprints (`fingerprint`, `ingredients`): a field that changes no
light stays out of these. `lights` builds lamps, `figures` people, `heads` says where faces are; `room`,
`pieces`, `sheets`, `outdoors`, `air` the rest. Numbers and their files may be touched, meanings only with
`records`.
"""
