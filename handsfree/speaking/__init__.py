"""From text to samples: synthesiser, prompt cache, tones, counted ticks."""
