"""Paper: what people read, print and cut. Here, and only here, the design's own unit comes back."""
