"""Builds the demo studio through the app's own actions, so that it proves them. Its words: fixtures/."""
