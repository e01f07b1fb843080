"""The live page: a server on this machine, and what it hands out.

`server` speaks HTTP and a socket, `guard` says who may ask, `desk` holds the scene, its frames and
what is changed, `answers` what is sent; `renders` and `worker` render behind it. `static/` is the page.
"""
