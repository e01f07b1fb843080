"""A day's renders in units that several processes, GPUs and machines share.

`day` has what is wanted, `bench` opens its scenes and does a unit, `plans` finds the units that are missing
and keeps the plan, `work` takes one free unit after the other, `estimate` says what it takes and what it
has cost. `processes` and `cluster` have many hands do the same. What it comes to is `run.shard`.
"""
