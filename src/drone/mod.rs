//! The drone: Sa and a stringing become samples; knows no voice.
