"""What obstacles do to a wave: sharp edges, silhouettes of any shape, foliage.

In come metres, megahertz and the shapes of obstacles in metres round the point where the straight
ray to the antenna crosses them, as numbers or arrays. Out come complex fields over the
free-space field, and losses in decibels, positive when the signal is weaker.
"""
