"""The notebooks as pages: live as soon as they are open, with no code on them."""
