// Package nmea turns a receiver's log into epochs.
package nmea
