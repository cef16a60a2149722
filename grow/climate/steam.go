package climate

import "math"

// Coefficients of the saturation line of water, region 4 of the industrial
// formulation IAPWS-IF97 (from memory; they give the check values that its
// release prints).
const (
	n1, n2, n3 = 0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2
	n4, n5, n6 = 0.12020824702470e5, -0.32325550322333e7, 0.14915108613530e2
	n7, n8, n9 = -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849
	n10        = 0.65017534844798e3
	kelvin     = 273.15
)

// SteamKPa is the absolute pressure of pure saturated steam at a temperature from
// 0 to 370 °C; outside it is not a number.
func SteamKPa(tempC float64) float64 {
	if !(tempC >= 0 && tempC <= 370) {
		return math.NaN()
	}
	t := tempC + kelvin
	th := t + n9/(t-n10)
	a := th*th + n1*th + n2
	b := n3*th*th + n4*th + n5
	c := n6*th*th + n7*th + n8
	return 1000 * math.Pow(2*c/(-b+math.Sqrt(b*b-4*a*c)), 4)
}

// SteamTempC is the temperature of pure saturated steam at an absolute pressure
// from 0.62 to 21,000 kPa; outside it is not a number.
func SteamTempC(absoluteKPa float64) float64 {
	if !(absoluteKPa >= 0.62 && absoluteKPa <= 21000) {
		return math.NaN()
	}
	beta := math.Pow(absoluteKPa/1000, 0.25)
	e := beta*beta + n3*beta + n6
	f := n1*beta*beta + n4*beta + n7
	g := n2*beta*beta + n5*beta + n8
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	return (n10+d-math.Sqrt((n10+d)*(n10+d)-4*(n9+n10*d)))/2 - kelvin
}

// AirKPa is the pressure of the standard atmosphere at a height above the sea in
// metres, up to 11,000. Weather moves it by two or three per cent.
func AirKPa(altitudeM float64) float64 {
	return 101.325 * math.Pow(1-2.25577e-5*altitudeM, 5.25588)
}

// GaugeTempC is the temperature of pure saturated steam when a gauge, which shows
// what stands above the air outside, reads gaugeKPa at this height. Air left in
// the vessel makes the gauge lie: the mixture is colder at the same pressure.
func GaugeTempC(gaugeKPa, altitudeM float64) float64 {
	return SteamTempC(gaugeKPa + AirKPa(altitudeM))
}

// GaugeKPa is what a gauge reads at this height when pure saturated steam has this
// temperature; below zero where water boils at a lower one.
func GaugeKPa(tempC, altitudeM float64) float64 { return SteamKPa(tempC) - AirKPa(altitudeM) }

// BoilingC is where water boils at this height, and as hot as open steam gets.
func BoilingC(altitudeM float64) float64 { return SteamTempC(AirKPa(altitudeM)) }
