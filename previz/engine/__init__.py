"""Light transport: a Stage in, Frames and Batches out."""
