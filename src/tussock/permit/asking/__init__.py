"""A permit file by questions and answers. Asks through a Protocol, so that any desk can answer."""
