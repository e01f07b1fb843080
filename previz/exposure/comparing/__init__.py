"""Numbers that hold one picture or face against another: options, shots, hours, densities.

One module a question (`looks` for one option by one camera, `match` for two shots, `day`, `haze`,
`wrap`, `eyes`, ...), each from mixed meters and linear pictures alone. Sheets print what stands here.
"""
