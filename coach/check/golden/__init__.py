"""Golden key scripts, random learners, and walking without a clock: a protocol in use."""
