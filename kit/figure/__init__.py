"""Where the landmarks of one dog lie in its median plane."""
