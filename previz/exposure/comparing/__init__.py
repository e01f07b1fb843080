"""Numbers that hold one picture or face against another: options, shots, hours, densities.

One module a question: what is measured of one option by one camera, `match` for two shots, `day`, `haze`,
`wrap`, `eyes` and others, each from mixed meters and linear pictures alone. Sheets print what stands
here. Limits and habits of the trade are constants with their source; change them there.
"""
