"""What can be seen to be wrong in a file without a rule to prove; each kind of thing in a room of its own."""
