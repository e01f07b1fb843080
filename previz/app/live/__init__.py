"""The live page: a scene's lamps, stops and meters in a browser, from its cached frames."""
