"""What to sow, where and when, under cheap unheated shelters: computed from the weather of your own place."""
