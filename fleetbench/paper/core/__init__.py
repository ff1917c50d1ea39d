"""The document, its pen, faces, codes and words: what every printed page uses."""
