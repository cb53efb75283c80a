"""The water loop: losses of parts as installed, the graph, the operating point, and a batch of them at once."""
