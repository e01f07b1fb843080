"""Files that pictures are looked at through, as their standards have them written."""

CDL = """<?xml version="1.0" encoding="UTF-8"?>
<ColorCorrectionCollection xmlns="urn:ASC:CDL:v1.01">
 <ColorCorrection id="plain"><SOPNode><Slope>1 1 1</Slope><Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode>
 </ColorCorrection>
 <ColorCorrection id="evening">
  <SOPNode><Slope>1.1 1 0.9</Slope><Offset>-0.02 0 0.02</Offset><Power>1.2 1 0.9</Power></SOPNode>
  <SatNode><Saturation>0.8</Saturation></SatNode>
 </ColorCorrection>
</ColorCorrectionCollection>
"""

# Common LUT format (S-2014-006): turns everything over, and says what it is made for.
OVER = """<?xml version="1.0" encoding="UTF-8"?>
<ProcessList xmlns="urn:AMPAS:CLF:v3.0" id="over" compCLFversion="3">
  <InputDescriptor>ACEScct</InputDescriptor>
  <OutputDescriptor>sRGB code values of a screen</OutputDescriptor>
  <Matrix inBitDepth="32f" outBitDepth="32f">
    <Array dim="3 4">-1 0 0 1  0 -1 0 1  0 0 -1 1</Array>
  </Matrix>
</ProcessList>
"""


def cube(steps=2, made=lambda r, g, b: (r, g, b), head=""):
    """Return a .cube of a function of red, green and blue, 0 to 1."""
    lines = [f"{head}LUT_3D_SIZE {steps}"]
    at = [k / (steps - 1) for k in range(steps)]
    lines += [" ".join(f"{each:.6f}" for each in made(r, g, b)) for b in at for g in at for r in at]
    return "\n".join(lines) + "\n"
