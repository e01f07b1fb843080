"""The cache: what was rendered, kept lamp by lamp, and when it can be used again.

`store` knows where it lies, `plan` what of it is cached, reused, partial or missing, `picture` and
`meters` put it together with what is rendered anew, `limit` bounds the folder, `why` gives reasons.
A file here is never changed in place; fingerprints come from `stage.fingerprint`.
"""
