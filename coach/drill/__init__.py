"""One run of a drill: engine, clock and log together, behind one door for screens and scripts."""
