"""Levels, colours and outputs that answer to what is wanted of the light, or to what was read of it.

Light adds up, so all of this is arithmetic on what each lamp gives at each place for one unit of its
output: nothing here traces a ray, opens a file or knows a scene. Numbers in, numbers out.
"""
