"""The scene file: its words, its reading and its checks. Nothing here computes light."""
