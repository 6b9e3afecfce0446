//! What a drone leaves in the microphone, and how it is taken out.
