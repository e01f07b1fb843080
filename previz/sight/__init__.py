"""What a camera, or a face, sees of a set: faces and whose picture it is, eye-lights, the rig.

`subjects` has the face that a camera is on, `face_view` is the view out from a face and `eyes`
what its eyes mirror, `rig_bodies` stands up what is in no scene file (stands, cameras), `rig_lines`
and `rig_seen` locate it in a picture, itself or mirrored, `coverage` puts that together for a frame.
Rays come from `engine.sightlines`; nothing is written here. Change thresholds with their sources.
"""
