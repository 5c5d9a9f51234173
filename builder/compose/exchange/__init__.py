"""What readers, reference managers and other systems take over."""
