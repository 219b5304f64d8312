"""The optimum of a dear model by corrections of a cheap one."""
