package logfile

import "testing"

// TestHeadsOfTemperatures: a column is left out by a word of its head that names
// something else, never by part of one. Heads as loggers write them, from memory.
func TestHeadsOfTemperatures(t *testing.T) {
	t.Parallel()
	for head, other := range map[string]bool{
		"Pressure cooker core": false, "TF01": false, "thermostate": false, "T_core": false, "Temperature °C": false, "Barn": false, "Overheat": false, "CH1": false, "": false,
		"Humidity(%RH)": true, "RelHumidity": true, "RH2": true, "Hum 1": true, "Dew point °C": true, "DewPoint(°C)": true, "Pressure (kPa)": true, "press1": true, "Absolute pressure": true,
		"Battery": true, "Batt.": true, "Supply V": true, "CO2 ppm": true, "F0": true, "F0 (min)": true, "Alarm state": true, "Cooker pressure kPa": true, "charge %": true,
	} {
		if got := namesOther(head); got != other {
			t.Errorf("%q names something else: %t, want %t", head, got, other)
		}
	}
}
