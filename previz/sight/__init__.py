"""What a camera, or a face, sees of a set: faces and whose picture it is, eye-lights, the rig.

`subjects` finds the face that a camera is on, `face_view` looks out from a face, `rig_bodies` stands
up what is in no scene file (stands, cameras), `rig_lines` and `rig_seen` find it in a picture, itself
or mirrored. Rays come from `engine.sightlines`; nothing is written here.
"""
