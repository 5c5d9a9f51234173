"""Finished files kept from earlier publishes, by all that entered them."""
