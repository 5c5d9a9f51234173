"""What an edition is: the hash of everything clinically visible in a procedure, the short digests of its parts, and the code it is issued under."""
