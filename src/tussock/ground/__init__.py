"""Ground data of one district: files, layers, lattice, surfaces, and the import from OpenStreetMap."""
