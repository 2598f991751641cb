"""How the invented demonstration catalogue is made, one idea a file."""
