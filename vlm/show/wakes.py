"""What the kinds of wake are called."""

WAKES = {
    "stream": "wake along the free stream",
    "craft": "wake along the x axis of the craft",
    "relaxed": "wake relaxed: it follows the flow",
}
