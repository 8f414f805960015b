"""What every room builds with and no room is named in: asking, books. No models; anything may import it."""
