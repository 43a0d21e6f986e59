"""Shot lists: a demonstration to be filmed, shot by shot, as data, Markdown, PDF and script."""
