"""Light transport: a Stage in, Frames and Probes out."""
