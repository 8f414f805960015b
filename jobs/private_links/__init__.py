"""What goes to the customer and what comes back: private links, letters by e-mail, and the page without a log-in."""
