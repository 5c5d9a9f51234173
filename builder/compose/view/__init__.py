"""What outputs share: the reading order of a procedure and the views of its parts."""
