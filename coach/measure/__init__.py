"""What keys can measure of a drill: runs, gaps, shares, rates, shocks, milestones and steps, each by one definition."""
