<?xml version="1.0" encoding="utf-8"?>
<!DOCTYPE TS>
<TS version="2.1" language="de" sourcelanguage="en">
  <context>
    <name>Roomtie</name>
    <message>
      <source>Pages</source>
      <translation>Seiten</translation>
    </message>
    <message>
      <source>Close</source>
      <translation>Schließen</translation>
    </message>
    <message>
      <source>Back</source>
      <translation>Zurück</translation>
    </message>
    <message>
      <source>Forward</source>
      <translation>Vor</translation>
    </message>
    <message>
      <source>Roomtie help: {page}</source>
      <translation>Hilfe zu Roomtie: {page}</translation>
    </message>
    <message>
      <source>Plan from captures…</source>
      <translation>Plan aus Aufnahmen…</translation>
    </message>
    <message>
      <source>Import polar captures…</source>
      <translation>Polare Aufnahmen einlesen…</translation>
    </message>
    <message>
      <source>Captures from point layer…</source>
      <translation>Aufnahmen aus Punktlayer…</translation>
    </message>
    <message>
      <source>Adjust stations…</source>
      <translation>Standpunkte ausgleichen…</translation>
    </message>
    <message>
      <source>Extract walls…</source>
      <translation>Wände bestimmen…</translation>
    </message>
    <message>
      <source>Build rooms and openings…</source>
      <translation>Räume und Öffnungen bilden…</translation>
    </message>
    <message>
      <source>Georeference plan…</source>
      <translation>Plan georeferenzieren…</translation>
    </message>
    <message>
      <source>Compare with taped distances…</source>
      <translation>Mit Bandmaßen vergleichen…</translation>
    </message>
    <message>
      <source>Compare with building layer…</source>
      <translation>Mit Gebäudelayer vergleichen…</translation>
    </message>
    <message>
      <source>Update building layer…</source>
      <translation>Gebäudelayer nachführen…</translation>
    </message>
    <message>
      <source>Plan sheet…</source>
      <translation>Planblatt…</translation>
    </message>
    <message>
      <source>Export drawing…</source>
      <translation>Zeichnung ausgeben…</translation>
    </message>
    <message>
      <source>Export indoor map…</source>
      <translation>Innenraumkarte ausgeben…</translation>
    </message>
    <message>
      <source>Roomtie</source>
      <translation>Roomtie</translation>
    </message>
    <message>
      <source>Describe a text file…</source>
      <translation>Textdatei beschreiben…</translation>
    </message>
    <message>
      <source>Plan from the example survey…</source>
      <translation>Plan aus der Beispielvermessung…</translation>
    </message>
    <message>
      <source>Help</source>
      <translation>Hilfe</translation>
    </message>
    <message>
      <source>Review the stations of a plan, choose, and readjust</source>
      <translation>Standpunkte eines Plans prüfen, entscheiden und neu ausgleichen</translation>
    </message>
    <message>
      <source>Sight distances</source>
      <translation>Strecken abgreifen</translation>
    </message>
    <message>
      <source>Click two walls, corners or targets: how far apart they are</source>
      <translation>Zwei Wände, Ecken oder Zielmarken anklicken: wie weit sie auseinander liegen</translation>
    </message>
    <message>
      <source>Plot scales</source>
      <translation>Planmaßstäbe</translation>
    </message>
    <message>
      <source>the project's, else the UTM zone of the geotags</source>
      <translation>das des Projekts, sonst die UTM-Zone der Geotags</translation>
    </message>
    <message>
      <source>Target CRS</source>
      <translation>Ziel-KBS</translation>
    </message>
    <message>
      <source>These fill Roomtie's dialogs. Captures that state their own noise keep it.</source>
      <translation>Diese Werte füllen die Dialoge von Roomtie. Aufnahmen, die ihre Genauigkeit selbst angeben, behalten sie.</translation>
    </message>
    <message>
      <source>Standard error of a distance</source>
      <translation>Standardabweichung einer Strecke</translation>
    </message>
    <message>
      <source> mm</source>
      <translation> mm</translation>
    </message>
    <message>
      <source>Standard error of an angle</source>
      <translation>Standardabweichung eines Winkels</translation>
    </message>
    <message>
      <source> deg</source>
      <translation> Grad</translation>
    </message>
    <message>
      <source>Plan</source>
      <translation>Plan</translation>
    </message>
    <message>
      <source>The plans in the project</source>
      <translation>Die Pläne im Projekt</translation>
    </message>
    <message>
      <source>Text files (*.txt *.csv *.dat *.asc *.xyz);;All files (*)</source>
      <translation>Textdateien (*.txt *.csv *.dat *.asc *.xyz);;Alle Dateien (*)</translation>
    </message>
    <message>
      <source>Describe a text file</source>
      <translation>Textdatei beschreiben</translation>
    </message>
    <message>
      <source>Text file to describe</source>
      <translation>Zu beschreibende Textdatei</translation>
    </message>
    <message>
      <source>Station in the picture</source>
      <translation>Standpunkt im Bild</translation>
    </message>
    <message>
      <source>&amp;Keep</source>
      <translation>&amp;Behalten</translation>
    </message>
    <message>
      <source>Keep and &amp;import…</source>
      <translation>Behalten und &amp;einlesen…</translation>
    </message>
    <message>
      <source>Keep a profile</source>
      <translation>Profil behalten</translation>
    </message>
    <message>
      <source>Te&amp;xt file</source>
      <translation>Te&amp;xtdatei</translation>
    </message>
    <message>
      <source>N&amp;ame of the profile</source>
      <translation>N&amp;ame des Profils</translation>
    </message>
    <message>
      <source>Say which way the angles run.</source>
      <translation>Geben Sie an, in welchem Sinn die Winkel laufen.</translation>
    </message>
    <message>
      <source>There is a profile {name} already. Replace it?</source>
      <translation>Das Profil {name} gibt es schon. Ersetzen?</translation>
    </message>
    <message>
      <source>Kept. The next file that looks the same will be read so.</source>
      <translation>Behalten. Die nächste Datei, die so aussieht, wird so gelesen.</translation>
    </message>
    <message>
      <source>This file looks like those of the profile {name}.</source>
      <translation>Diese Datei sieht aus wie die des Profils {name}.</translation>
    </message>
    <message>
      <source>No table of numbers is found in this file: say how its lines are split.</source>
      <translation>In dieser Datei ist keine Zahlentabelle zu finden: geben Sie an, wie die Zeilen zu trennen sind.</translation>
    </message>
    <message>
      <source>This is a first guess. Check what each column holds and the units, and say which way the angles run: compare the picture with the room.</source>
      <translation>Dies ist eine erste Vermutung. Prüfen Sie, was jede Spalte enthält, und die Einheiten, und geben Sie den Drehsinn an: vergleichen Sie das Bild mit dem Raum.</translation>
    </message>
    <message>
      <source>The file's lines do not split into these columns.</source>
      <translation>Die Zeilen der Datei lassen sich nicht in diese Spalten teilen.</translation>
    </message>
    <message>
      <source>This file is {format}, which says itself what it holds: no profile is needed.</source>
      <translation>Diese Datei ist {format} und sagt selbst, was sie enthält: ein Profil ist nicht nötig.</translation>
    </message>
    <message>
      <source>Kept. {others} fits this file too and reads it otherwise: the import will ask which one is meant.</source>
      <translation>Behalten. Auch {others} passt zu dieser Datei und liest sie anders: das Einlesen wird fragen, welches gemeint ist.</translation>
    </message>
    <message>
      <source>comma ,</source>
      <translation>Komma ,</translation>
    </message>
    <message>
      <source>semicolon ;</source>
      <translation>Strichpunkt ;</translation>
    </message>
    <message>
      <source>tab</source>
      <translation>Tabulator</translation>
    </message>
    <message>
      <source>blanks or tabs</source>
      <translation>Leerzeichen oder Tabulatoren</translation>
    </message>
    <message>
      <source>point 1.5</source>
      <translation>Punkt 1.5</translation>
    </message>
    <message>
      <source>comma 1,5</source>
      <translation>Komma 1,5</translation>
    </message>
    <message>
      <source>degrees (360)</source>
      <translation>Grad (360)</translation>
    </message>
    <message>
      <source>gon (400)</source>
      <translation>Gon (400)</translation>
    </message>
    <message>
      <source>radians (2π)</source>
      <translation>Radiant (2π)</translation>
    </message>
    <message>
      <source>metres</source>
      <translation>Meter</translation>
    </message>
    <message>
      <source>centimetres</source>
      <translation>Zentimeter</translation>
    </message>
    <message>
      <source>millimetres</source>
      <translation>Millimeter</translation>
    </message>
    <message>
      <source>feet</source>
      <translation>Fuß</translation>
    </message>
    <message>
      <source>inches</source>
      <translation>Zoll</translation>
    </message>
    <message>
      <source>choose…</source>
      <translation>wählen…</translation>
    </message>
    <message>
      <source>clockwise</source>
      <translation>im Uhrzeigersinn</translation>
    </message>
    <message>
      <source>counterclockwise</source>
      <translation>gegen den Uhrzeigersinn</translation>
    </message>
    <message>
      <source>A row of column &amp;names comes first</source>
      <translation>Zuerst kommt eine Zeile mit Spalten&amp;namen</translation>
    </message>
    <message>
      <source>-1; 9999</source>
      <translation>-1; 9999</translation>
    </message>
    <message>
      <source>What the instrument's angle shows in the direction that shall be zero (the one whose compass bearing is taken); it is subtracted.</source>
      <translation>Was der Winkel des Instruments in der Richtung anzeigt, die null sein soll (deren Kompassrichtung genommen wird); es wird abgezogen.</translation>
    </message>
    <message>
      <source>The zero error of the distance, from a calibration; it is subtracted.</source>
      <translation>Die Nullpunktabweichung der Strecke aus einer Kalibrierung; sie wird abgezogen.</translation>
    </message>
    <message>
      <source>What stands in the distance's place where nothing came back, beside a blank and 0; several apart by semicolons.</source>
      <translation>Was anstelle der Strecke steht, wenn nichts zurückkam, außer Leer und 0; mehrere durch Strichpunkt getrennt.</translation>
    </message>
    <message>
      <source>Lines that begin so are passed over.</source>
      <translation>Zeilen, die so beginnen, werden übergangen.</translation>
    </message>
    <message>
      <source>Seen from above, as the angles grow.</source>
      <translation>Von oben gesehen, mit wachsendem Winkel.</translation>
    </message>
    <message>
      <source>Lines</source>
      <translation>Zeilen</translation>
    </message>
    <message>
      <source>&amp;Separator</source>
      <translation>&amp;Trennzeichen</translation>
    </message>
    <message>
      <source>&amp;Decimal sign</source>
      <translation>&amp;Dezimalzeichen</translation>
    </message>
    <message>
      <source>Lines to s&amp;kip at the top</source>
      <translation>Oben zu ü&amp;bergehende Zeilen</translation>
    </message>
    <message>
      <source>Comment si&amp;gn</source>
      <translation>Kommentar&amp;zeichen</translation>
    </message>
    <message>
      <source>&amp;Encoding</source>
      <translation>&amp;Kodierung</translation>
    </message>
    <message>
      <source>Angles</source>
      <translation>Winkel</translation>
    </message>
    <message>
      <source>&amp;Unit</source>
      <translation>&amp;Einheit</translation>
    </message>
    <message>
      <source>Angles &amp;run</source>
      <translation>Winkel &amp;laufen</translation>
    </message>
    <message>
      <source>&amp;Zero direction at</source>
      <translation>&amp;Nullrichtung bei</translation>
    </message>
    <message>
      <source>Distances</source>
      <translation>Strecken</translation>
    </message>
    <message>
      <source>Uni&amp;t</source>
      <translation>E&amp;inheit</translation>
    </message>
    <message>
      <source>Zero err&amp;or</source>
      <translation>Nullpunktabweichun&amp;g</translation>
    </message>
    <message>
      <source>Nothing came &amp;back</source>
      <translation>Nichts kam zu&amp;rück</translation>
    </message>
    <message>
      <source>Profiles (*.json)</source>
      <translation>Profile (*.json)</translation>
    </message>
    <message>
      <source>Kept profiles</source>
      <translation>Behaltene Profile</translation>
    </message>
    <message>
      <source>Rename a profile</source>
      <translation>Profil umbenennen</translation>
    </message>
    <message>
      <source>New name</source>
      <translation>Neuer Name</translation>
    </message>
    <message>
      <source>Delete a profile</source>
      <translation>Profil löschen</translation>
    </message>
    <message>
      <source>Profile from a file</source>
      <translation>Profil aus einer Datei</translation>
    </message>
    <message>
      <source>Profile to a file</source>
      <translation>Profil in eine Datei</translation>
    </message>
    <message>
      <source>Rena&amp;me…</source>
      <translation>U&amp;mbenennen…</translation>
    </message>
    <message>
      <source>De&amp;lete…</source>
      <translation>Lös&amp;chen…</translation>
    </message>
    <message>
      <source>From f&amp;ile…</source>
      <translation>Aus Da&amp;tei…</translation>
    </message>
    <message>
      <source>To fil&amp;e…</source>
      <translation>In Date&amp;i…</translation>
    </message>
    <message>
      <source>{name} was written to {path}.</source>
      <translation>{name} wurde nach {path} geschrieben.</translation>
    </message>
    <message>
      <source>Delete the profile {name}? Its files will be unmarked again.</source>
      <translation>Das Profil {name} löschen? Seine Dateien sind dann wieder unbeschrieben.</translation>
    </message>
    <message>
      <source>No reading can be read.</source>
      <translation>Es lässt sich kein Messwert lesen.</translation>
    </message>
    <message>
      <source>1 station</source>
      <translation>1 Standpunkt</translation>
    </message>
    <message>
      <source>{n} stations</source>
      <translation>{n} Standpunkte</translation>
    </message>
    <message>
      <source>{stations}, {readings} readings, {gone} without a return</source>
      <translation>{stations}, {readings} Messwerte, {gone} ohne Rückkehr</translation>
    </message>
    <message>
      <source>The ring turns {way} over {turn:.1f}°</source>
      <translation>Der Ring dreht {way} über {turn:.1f}°</translation>
    </message>
    <message>
      <source>The lines split into {count} columns; expected at most {most}.</source>
      <translation>Die Zeilen teilen sich in {count} Spalten; erwartet werden höchstens {most}.</translation>
    </message>
    <message>
      <source> ({count} more like this)</source>
      <translation> ({count} weitere dieser Art)</translation>
    </message>
    <message>
      <source>Distances {low:.2f} m to {high:.2f} m, half below {middle:.2f} m</source>
      <translation>Strecken von {low:.2f} m bis {high:.2f} m, die Hälfte unter {middle:.2f} m</translation>
    </message>
    <message>
      <source>not used</source>
      <translation>nicht benutzt</translation>
    </message>
    <message>
      <source>angle</source>
      <translation>Winkel</translation>
    </message>
    <message>
      <source>distance</source>
      <translation>Strecke</translation>
    </message>
    <message>
      <source>zenith angle</source>
      <translation>Zenitwinkel</translation>
    </message>
    <message>
      <source>elevation angle</source>
      <translation>Höhenwinkel</translation>
    </message>
    <message>
      <source>intensity</source>
      <translation>Intensität</translation>
    </message>
    <message>
      <source>station</source>
      <translation>Standpunkt</translation>
    </message>
    <message>
      <source>kind</source>
      <translation>Art</translation>
    </message>
    <message>
      <source>target</source>
      <translation>Zielmarke</translation>
    </message>
    <message>
      <source>First lines of the file</source>
      <translation>Erste Zeilen der Datei</translation>
    </message>
    <message>
      <source>holds</source>
      <translation>enthält</translation>
    </message>
    <message>
      <source>Column {number} holds</source>
      <translation>Spalte {number} enthält</translation>
    </message>
    <message>
      <source>the kept one that fits the file</source>
      <translation>das behaltene, das zur Datei passt</translation>
    </message>
    <message>
      <source>A kept profile, a profile's .json file, or empty.</source>
      <translation>Ein behaltenes Profil, die .json-Datei eines Profils oder leer.</translation>
    </message>
    <message>
      <source>Describe…</source>
      <translation>Beschreiben…</translation>
    </message>
    <message>
      <source>as recorded</source>
      <translation>wie aufgenommen</translation>
    </message>
    <message>
      <source>held</source>
      <translation>festgehalten</translation>
    </message>
    <message>
      <source>adjusted</source>
      <translation>ausgeglichen</translation>
    </message>
    <message>
      <source>unconnected</source>
      <translation>unverbunden</translation>
    </message>
    <message>
      <source>surface</source>
      <translation>Fläche</translation>
    </message>
    <message>
      <source>overlap</source>
      <translation>Überlappung</translation>
    </message>
    <message>
      <source>compass</source>
      <translation>Kompass</translation>
    </message>
    <message>
      <source>geotag</source>
      <translation>Geotag</translation>
    </message>
    <message>
      <source>Choice</source>
      <translation>Wahl</translation>
    </message>
    <message>
      <source>Station</source>
      <translation>Standpunkt</translation>
    </message>
    <message>
      <source>Name of the station</source>
      <translation>Name des Standpunkts</translation>
    </message>
    <message>
      <source>Status</source>
      <translation>Zustand</translation>
    </message>
    <message>
      <source>What the adjustment made of it</source>
      <translation>Was die Ausgleichung daraus gemacht hat</translation>
    </message>
    <message>
      <source>What you decided: it counts when you readjust</source>
      <translation>Was Sie entschieden haben: Es gilt, wenn Sie neu ausgleichen</translation>
    </message>
    <message>
      <source>Used</source>
      <translation>Benutzt</translation>
    </message>
    <message>
      <source>Readings used, of all</source>
      <translation>Benutzte Messwerte von allen</translation>
    </message>
    <message>
      <source>Largest mm</source>
      <translation>Größte mm</translation>
    </message>
    <message>
      <source>Largest residual of a reading from its wall, in mm</source>
      <translation>Größte Abweichung eines Messwerts von seiner Wand, in mm</translation>
    </message>
    <message>
      <source>Largest w</source>
      <translation>Größtes w</translation>
    </message>
    <message>
      <source>Largest standardised residual of the ties in use; beyond 3.29 it is suspect</source>
      <translation>Größte normierte Verbesserung der benutzten Verknüpfungen; über 3,29 verdächtig</translation>
    </message>
    <message>
      <source>σ x mm</source>
      <translation>σ x mm</translation>
    </message>
    <message>
      <source>Standard error in x (1 sigma)</source>
      <translation>Standardabweichung in x (1 Sigma)</translation>
    </message>
    <message>
      <source>σ y mm</source>
      <translation>σ y mm</translation>
    </message>
    <message>
      <source>Standard error in y (1 sigma)</source>
      <translation>Standardabweichung in y (1 Sigma)</translation>
    </message>
    <message>
      <source>σ dir °</source>
      <translation>σ Ri. °</translation>
    </message>
    <message>
      <source>Standard error of the orientation (1 sigma)</source>
      <translation>Standardabweichung der Orientierung (1 Sigma)</translation>
    </message>
    <message>
      <source>Flags</source>
      <translation>Kennzeichen</translation>
    </message>
    <message>
      <source>Readings that are not used, by what speaks against them</source>
      <translation>Nicht benutzte Messwerte nach dem, was gegen sie spricht</translation>
    </message>
    <message>
      <source>Proposal</source>
      <translation>Vorschlag</translation>
    </message>
    <message>
      <source>What the adjustment proposes, and why</source>
      <translation>Was die Ausgleichung vorschlägt und warum</translation>
    </message>
    <message>
      <source>Level</source>
      <translation>Geschoss</translation>
    </message>
    <message>
      <source>Storey, 0 = ground</source>
      <translation>Geschoss, 0 = Erdgeschoss</translation>
    </message>
    <message>
      <source>used</source>
      <translation>benutzt</translation>
    </message>
    <message>
      <source>Tie</source>
      <translation>Verknüpfung</translation>
    </message>
    <message>
      <source>Kind, and to what</source>
      <translation>Art und wozu</translation>
    </message>
    <message>
      <source>Whether the adjustment used it</source>
      <translation>Ob die Ausgleichung sie benutzt hat</translation>
    </message>
    <message>
      <source>Off mm</source>
      <translation>Ab mm</translation>
    </message>
    <message>
      <source>Residual of the position</source>
      <translation>Verbesserung der Lage</translation>
    </message>
    <message>
      <source>Off °</source>
      <translation>Ab °</translation>
    </message>
    <message>
      <source>Residual of the direction</source>
      <translation>Verbesserung der Richtung</translation>
    </message>
    <message>
      <source>Standardised residual; beyond 3.29 it is suspect</source>
      <translation>Normierte Verbesserung; über 3,29 verdächtig</translation>
    </message>
    <message>
      <source>σ ×</source>
      <translation>σ ×</translation>
    </message>
    <message>
      <source>Factor on the tie's standard errors; empty for 1</source>
      <translation>Faktor der Standardabweichungen; leer für 1</translation>
    </message>
    <message>
      <source>What it says</source>
      <translation>Was sie sagt</translation>
    </message>
    <message>
      <source>Why it is not used, or what to look at</source>
      <translation>Warum sie nicht benutzt ist, oder was anzusehen ist</translation>
    </message>
    <message>
      <source>Name</source>
      <translation>Name</translation>
    </message>
    <message>
      <source>Name of the room; change it with F2</source>
      <translation>Name des Raums; mit F2 ändern</translation>
    </message>
    <message>
      <source>m²</source>
      <translation>m²</translation>
    </message>
    <message>
      <source>Area</source>
      <translation>Fläche</translation>
    </message>
    <message>
      <source>σ m²</source>
      <translation>σ m²</translation>
    </message>
    <message>
      <source>Standard error of the area (1 sigma)</source>
      <translation>Standardabweichung der Fläche (1 Sigma)</translation>
    </message>
    <message>
      <source>Seen</source>
      <translation>Gesehen</translation>
    </message>
    <message>
      <source>Share of the boundary that readings back</source>
      <translation>Anteil des Umrisses, den Messwerte belegen</translation>
    </message>
    <message>
      <source>Stations</source>
      <translation>Standpunkte</translation>
    </message>
    <message>
      <source>Stations that stand in the room</source>
      <translation>Standpunkte im Raum</translation>
    </message>
    <message>
      <source>as found</source>
      <translation>wie gefunden</translation>
    </message>
    <message>
      <source>hold</source>
      <translation>festhalten</translation>
    </message>
    <message>
      <source>leave out</source>
      <translation>weglassen</translation>
    </message>
    <message>
      <source>yes</source>
      <translation>ja</translation>
    </message>
    <message>
      <source>no</source>
      <translation>nein</translation>
    </message>
    <message>
      <source>Review of stations</source>
      <translation>Prüfung der Standpunkte</translation>
    </message>
    <message>
      <source>The project has no plan: make one with Plan from captures.</source>
      <translation>Das Projekt hat keinen Plan: Machen Sie einen mit Plan aus Aufnahmen.</translation>
    </message>
    <message>
      <source>Nothing is selected in the table.</source>
      <translation>In der Tabelle ist nichts ausgewählt.</translation>
    </message>
    <message>
      <source>Undo {step}</source>
      <translation>{step} rückgängig machen</translation>
    </message>
    <message>
      <source>Redo {step}</source>
      <translation>{step} wiederherstellen</translation>
    </message>
    <message>
      <source>choice for {thing}</source>
      <translation>Wahl zu {thing}</translation>
    </message>
    <message>
      <source>weight of {thing}</source>
      <translation>Gewicht von {thing}</translation>
    </message>
    <message>
      <source>name of {thing}</source>
      <translation>Name von {thing}</translation>
    </message>
    <message>
      <source>the host gave no reason</source>
      <translation>das Programm nannte keinen Grund</translation>
    </message>
    <message>
      <source>{key} is not in the layer {layer} any more.</source>
      <translation>{key} ist nicht mehr im Layer {layer}.</translation>
    </message>
    <message>
      <source>Layer {layer}: the change could not be written: {reason}.</source>
      <translation>Layer {layer}: Die Änderung konnte nicht geschrieben werden: {reason}.</translation>
    </message>
    <message>
      <source>Layer {layer} has no field {field} yet, and is being edited; expected it saved first.</source>
      <translation>Layer {layer} hat noch kein Feld {field} und wird gerade bearbeitet; er muss zuerst gespeichert sein.</translation>
    </message>
    <message>
      <source>Layer {layer}: the field {field} could not be added: {reason}.</source>
      <translation>Layer {layer}: Das Feld {field} konnte nicht angelegt werden: {reason}.</translation>
    </message>
    <message>
      <source>The factor on the standard errors is {value}; expected a number from 0.01 to 1000, or nothing.</source>
      <translation>Der Faktor der Standardabweichungen ist {value}; erwartet wird eine Zahl von 0,01 bis 1000 oder nichts.</translation>
    </message>
    <message>
      <source>Plan under review</source>
      <translation>Plan in Prüfung</translation>
    </message>
    <message>
      <source>Undo</source>
      <translation>Rückgängig</translation>
    </message>
    <message>
      <source>Redo</source>
      <translation>Wiederherstellen</translation>
    </message>
    <message>
      <source>Zoom to the selected stations</source>
      <translation>Auf die gewählten Standpunkte zoomen</translation>
    </message>
    <message>
      <source>Filter stations</source>
      <translation>Standpunkte filtern</translation>
    </message>
    <message>
      <source>Ties of the station</source>
      <translation>Verknüpfungen des Standpunkts</translation>
    </message>
    <message>
      <source>Rooms</source>
      <translation>Räume</translation>
    </message>
    <message>
      <source>Colour by residual</source>
      <translation>Nach Abweichung färben</translation>
    </message>
    <message>
      <source>Colour by flag</source>
      <translation>Nach Kennzeichen färben</translation>
    </message>
    <message>
      <source>What the ring is coloured by</source>
      <translation>Wonach der Ring gefärbt ist</translation>
    </message>
    <message>
      <source>&amp;Readjust</source>
      <translation>&amp;Neu ausgleichen</translation>
    </message>
    <message>
      <source>Adjust again with what you chose, and draw the plan anew, in the background</source>
      <translation>Mit Ihren Entscheidungen neu ausgleichen und den Plan neu zeichnen, im Hintergrund</translation>
    </message>
    <message>
      <source>Cancel</source>
      <translation>Abbrechen</translation>
    </message>
    <message>
      <source>Progress of the readjustment</source>
      <translation>Fortschritt der neuen Ausgleichung</translation>
    </message>
    <message>
      <source>For what is selected in the table; it counts when you readjust</source>
      <translation>Für das in der Tabelle Gewählte; gilt, wenn Sie neu ausgleichen</translation>
    </message>
    <message>
      <source>As found</source>
      <translation>Wie gefunden</translation>
    </message>
    <message>
      <source>Hold</source>
      <translation>Festhalten</translation>
    </message>
    <message>
      <source>Leave out</source>
      <translation>Weglassen</translation>
    </message>
    <message>
      <source>Ring</source>
      <translation>Ring</translation>
    </message>
    <message>
      <source>Ties</source>
      <translation>Verknüpfungen</translation>
    </message>
    <message>
      <source>{layer} (single steps)</source>
      <translation>{layer} (Einzelschritte)</translation>
    </message>
    <message>
      <source>The host gave no reason.</source>
      <translation>Das Programm nannte keinen Grund.</translation>
    </message>
    <message>
      <source>Readjust</source>
      <translation>Neu ausgleichen</translation>
    </message>
    <message>
      <source>The host does not know {name}.</source>
      <translation>Das Programm kennt {name} nicht.</translation>
    </message>
    <message>
      <source>{path}: the plan was changed while it was readjusted, and is kept as it is; save the edits and readjust again.</source>
      <translation>{path}: Der Plan wurde während der neuen Ausgleichung geändert und bleibt, wie er ist; speichern Sie die Änderungen und gleichen Sie noch einmal aus.</translation>
    </message>
    <message>
      <source>on no wall</source>
      <translation>an keiner Wand</translation>
    </message>
    <message>
      <source>up to 2 mm</source>
      <translation>bis 2 mm</translation>
    </message>
    <message>
      <source>2 to 5 mm</source>
      <translation>2 bis 5 mm</translation>
    </message>
    <message>
      <source>5 to 10 mm</source>
      <translation>5 bis 10 mm</translation>
    </message>
    <message>
      <source>beyond 10 mm</source>
      <translation>über 10 mm</translation>
    </message>
    <message>
      <source>Flags and residuals of the stations</source>
      <translation>Kennzeichen und Abweichungen der Standpunkte</translation>
    </message>
    <message>
      <source>Station {station}: {ties}, {unused}.</source>
      <translation>Standpunkt {station}: {ties}, {unused}.</translation>
    </message>
    <message numerus="yes">
      <source>%n tie(s)</source>
      <translation>
        <numerusform>%n Verknüpfung</numerusform>
        <numerusform>%n Verknüpfungen</numerusform>
      </translation>
    </message>
    <message numerus="yes">
      <source>%n of them not used</source>
      <translation>
        <numerusform>%n davon nicht benutzt</numerusform>
        <numerusform>%n davon nicht benutzt</numerusform>
      </translation>
    </message>
    <message>
      <source>Choose a station in the table or in the map.</source>
      <translation>Wählen Sie einen Standpunkt in der Tabelle oder in der Karte.</translation>
    </message>
    <message>
      <source>Ring of {station}</source>
      <translation>Ring von {station}</translation>
    </message>
    <message>
      <source>Proposal: {proposal}</source>
      <translation>Vorschlag: {proposal}</translation>
    </message>
    <message>
      <source>{path}: the plan could not be read ({reason}).</source>
      <translation>{path}: Der Plan konnte nicht gelesen werden ({reason}).</translation>
    </message>
    <message>
      <source>Readjusted. Undo brings the earlier plan back.</source>
      <translation>Neu ausgeglichen. Rückgängig holt den früheren Plan zurück.</translation>
    </message>
    <message>
      <source>That state of the plan is not kept any more.</source>
      <translation>Dieser Stand des Plans wird nicht mehr aufbewahrt.</translation>
    </message>
    <message>
      <source>Readjust {plan}</source>
      <translation>{plan} neu ausgleichen</translation>
    </message>
    <message>
      <source>Another state of {plan}</source>
      <translation>Anderer Stand von {plan}</translation>
    </message>
    <message>
      <source>Cancelled; the plan is as it was.</source>
      <translation>Abgebrochen; der Plan ist, wie er war.</translation>
    </message>
    <message>
      <source>Layer {layer} has edits that are not saved; save or cancel them first.</source>
      <translation>Layer {layer} hat ungespeicherte Änderungen; speichern oder verwerfen Sie sie zuerst.</translation>
    </message>
    <message>
      <source>Picture of the ring</source>
      <translation>Bild des Rings</translation>
    </message>
    <message>
      <source>zero direction up</source>
      <translation>Nullrichtung oben</translation>
    </message>
    <message>
      <source>nothing to draw yet</source>
      <translation>noch nichts zu zeichnen</translation>
    </message>
    <message>
      <source>{count} readings drawn, {way}</source>
      <translation>{count} Messwerte gezeichnet, {way}</translation>
    </message>
    <message>
      <source>Taped distances</source>
      <translation>Bandmaße</translation>
    </message>
    <message>
      <source>Reading the plan…</source>
      <translation>Der Plan wird gelesen…</translation>
    </message>
    <message>
      <source>Under the cursor: {thing}</source>
      <translation>Unter dem Zeiger: {thing}</translation>
    </message>
    <message>
      <source>Read {plan}</source>
      <translation>{plan} lesen</translation>
    </message>
    <message>
      <source>{length} m, standard error {sigma} mm (1 sigma)</source>
      <translation>{length} m, Standardabweichung {sigma} mm (1 Sigma)</translation>
    </message>
    <message>
      <source>The table has no distances yet.</source>
      <translation>Die Tabelle hat noch keine Strecken.</translation>
    </message>
    <message>
      <source>{difference} mm (plan less tape), tolerance {tolerance} mm: {verdict}</source>
      <translation>{difference} mm (Plan minus Band), Toleranz {tolerance} mm: {verdict}</translation>
    </message>
    <message>
      <source>Table of taped distances</source>
      <translation>Tabelle der Bandmaße</translation>
    </message>
    <message>
      <source>within tolerance</source>
      <translation>innerhalb der Toleranz</translation>
    </message>
    <message>
      <source>plan too long</source>
      <translation>Plan zu lang</translation>
    </message>
    <message>
      <source>plan too short</source>
      <translation>Plan zu kurz</translation>
    </message>
    <message>
      <source>Standard error of the taped distance (1 sigma). 2 mm: common practice in a room.</source>
      <translation>Standardabweichung des Bandmaßes (1 Sigma). 2 mm: in einem Raum üblich.</translation>
    </message>
    <message>
      <source>&amp;Add to the table</source>
      <translation>In die Tabelle &amp;eintragen</translation>
    </message>
    <message>
      <source>Remove</source>
      <translation>Entfernen</translation>
    </message>
    <message>
      <source>Take the selected distances out of the table</source>
      <translation>Die gewählten Strecken aus der Tabelle nehmen</translation>
    </message>
    <message>
      <source>&amp;Compare…</source>
      <translation>&amp;Vergleichen…</translation>
    </message>
    <message>
      <source>Compare all of them with the plan, with a report</source>
      <translation>Alle mit dem Plan vergleichen, mit Bericht</translation>
    </message>
    <message>
      <source>click in the map, or type: W012, W012/W013, T3</source>
      <translation>in die Karte klicken oder tippen: W012, W012/W013, T3</translation>
    </message>
    <message>
      <source>&amp;Plan</source>
      <translation>&amp;Plan</translation>
    </message>
    <message>
      <source>&amp;From</source>
      <translation>V&amp;on</translation>
    </message>
    <message>
      <source>&amp;To</source>
      <translation>&amp;Bis</translation>
    </message>
    <message>
      <source>On the plan</source>
      <translation>Im Plan</translation>
    </message>
    <message>
      <source>Taped</source>
      <translation>Gemessen</translation>
    </message>
    <message>
      <source>not on the plan</source>
      <translation>nicht im Plan</translation>
    </message>
    <message>
      <source>From</source>
      <translation>Von</translation>
    </message>
    <message>
      <source>Wall, corner or target</source>
      <translation>Wand, Ecke oder Zielmarke</translation>
    </message>
    <message>
      <source>To</source>
      <translation>Bis</translation>
    </message>
    <message>
      <source>Taped m</source>
      <translation>Band m</translation>
    </message>
    <message>
      <source>Taped distance</source>
      <translation>Bandmaß</translation>
    </message>
    <message>
      <source>Diff. mm</source>
      <translation>Diff. mm</translation>
    </message>
    <message>
      <source>Plan less tape</source>
      <translation>Plan minus Band</translation>
    </message>
    <message>
      <source>Verdict</source>
      <translation>Urteil</translation>
    </message>
    <message>
      <source>Judged by the errors of both (95 %)</source>
      <translation>Nach den Fehlern beider beurteilt (95 %)</translation>
    </message>
    <message>
      <source>Plan m</source>
      <translation>Plan m</translation>
    </message>
    <message>
      <source>Distance on the plan, on the ground</source>
      <translation>Strecke im Plan, am Boden</translation>
    </message>
    <message>
      <source>Taped distance in metres</source>
      <translation>Bandmaß in Metern</translation>
    </message>
    <message>
      <source>Standard error of the taped distance in millimetres</source>
      <translation>Standardabweichung des Bandmaßes in Millimetern</translation>
    </message>
    <message>
      <source>The plan has no walls; expected some to take distances between.</source>
      <translation>Der Plan hat keine Wände; erwartet werden welche, zwischen denen zu messen ist.</translation>
    </message>
    <message>
      <source>corner {name}</source>
      <translation>Ecke {name}</translation>
    </message>
    <message>
      <source>The plan has no layer {layer}; expected one that Plan from captures made.</source>
      <translation>Der Plan hat keinen Layer {layer}; erwartet wird ein Plan aus Aufnahmen.</translation>
    </message>
    <message>
      <source>{path}: there is no layer {layer}.</source>
      <translation>{path}: Es gibt keinen Layer {layer}.</translation>
    </message>
    <message>
      <source>Unchanged</source>
      <translation>Unverändert</translation>
    </message>
    <message>
      <source>Reshaped</source>
      <translation>Umgestaltet</translation>
    </message>
    <message>
      <source>Moved</source>
      <translation>Verschoben</translation>
    </message>
    <message>
      <source>Split</source>
      <translation>Geteilt</translation>
    </message>
    <message>
      <source>Merged</source>
      <translation>Zusammengelegt</translation>
    </message>
    <message>
      <source>New</source>
      <translation>Neu</translation>
    </message>
    <message>
      <source>Removed</source>
      <translation>Entfallen</translation>
    </message>
    <message>
      <source>Unresolved</source>
      <translation>Ungeklärt</translation>
    </message>
    <message>
      <source>Room</source>
      <translation>Raum</translation>
    </message>
    <message>
      <source>Where the plan's outside may lie (95 %)</source>
      <translation>Wo die Außenseite des Plans liegen kann (95 %)</translation>
    </message>
    <message>
      <source>Within tolerance</source>
      <translation>Innerhalb der Toleranz</translation>
    </message>
    <message>
      <source>Beyond tolerance</source>
      <translation>Außerhalb der Toleranz</translation>
    </message>
    <message>
      <source>Station as recorded</source>
      <translation>Standpunkt wie aufgenommen</translation>
    </message>
    <message>
      <source>Unconnected station (sketched)</source>
      <translation>Unverbundener Standpunkt (Skizze)</translation>
    </message>
    <message>
      <source>Control</source>
      <translation>Passpunkt</translation>
    </message>
    <message>
      <source>Tie target</source>
      <translation>Verknüpfungsmarke</translation>
    </message>
    <message>
      <source>Check target</source>
      <translation>Kontrollmarke</translation>
    </message>
    <message>
      <source>Tie not used</source>
      <translation>Nicht benutzte Verknüpfung</translation>
    </message>
    <message>
      <source>Sighting</source>
      <translation>Anzielung</translation>
    </message>
    <message>
      <source>Overlap tie</source>
      <translation>Verknüpfung durch Überlappung</translation>
    </message>
    <message>
      <source>Reading</source>
      <translation>Messwert</translation>
    </message>
    <message>
      <source>Flagged reading</source>
      <translation>Gekennzeichneter Messwert</translation>
    </message>
    <message>
      <source>Wall face</source>
      <translation>Wandfläche</translation>
    </message>
    <message>
      <source>Face bounding no room</source>
      <translation>Fläche, die keinen Raum begrenzt</translation>
    </message>
    <message>
      <source>Doorway</source>
      <translation>Türöffnung</translation>
    </message>
    <message>
      <source>Window</source>
      <translation>Fenster</translation>
    </message>
    <message>
      <source>Unseen stretch</source>
      <translation>Nicht eingesehene Strecke</translation>
    </message>
    <message>
      <source>Station, 95 % ellipse × {factor} (exaggerated)</source>
      <translation>Standpunkt, 95-%-Ellipse × {factor} (überhöht)</translation>
    </message>
    <message>
      <source>review</source>
      <translation>Prüfung</translation>
    </message>
    <message>
      <source>plan</source>
      <translation>Plan</translation>
    </message>
    <message>
      <source>site</source>
      <translation>Lage</translation>
    </message>
    <message>
      <source>Adjust stations</source>
      <translation>Standpunkte ausgleichen</translation>
    </message>
    <message>
      <source>Ties the stations by sighted targets and by the wall faces that captures share, and adjusts each connected network in one weighted least-squares adjustment. Every station gets its standard errors; every tie its residual and standardised residual; a tie that does not agree is rejected and listed with the reason.

Stations without a tie are sketched apart by compass and geotag, and said so. They are never joined by guesswork.

A result can be the input again: what the field choice says of a station (hold, leave out) and, in the earlier ties, of a tie (leave out, a factor on its standard error) counts, and stations that were tied are not searched again.</source>
      <translation>Verknüpft die Standpunkte durch angezielte Marken und durch Wandflächen, die Aufnahmen gemeinsam sehen, und gleicht jedes zusammenhängende Netz in einer gewichteten Ausgleichung nach kleinsten Quadraten aus. Jeder Standpunkt erhält seine Standardabweichungen, jede Verknüpfung ihre Verbesserung und normierte Verbesserung; was nicht passt, wird verworfen und mit Begründung aufgeführt.

Standpunkte ohne Verknüpfung werden nach Kompass und Geotag abseits skizziert, und das wird gesagt. Sie werden nie auf Verdacht verbunden.

Ein Ergebnis kann wieder Eingabe sein: was das Feld choice für einen Standpunkt (hold, leave out) und in den früheren Verknüpfungen für eine Verknüpfung sagt (leave out, ein Faktor für die Standardabweichung), gilt, und nach Verbundenem wird nicht neu gesucht.</translation>
    </message>
    <message>
      <source>Reference variance</source>
      <translation>Varianz der Gewichtseinheit</translation>
    </message>
    <message>
      <source>Degrees of freedom</source>
      <translation>Freiheitsgrade</translation>
    </message>
    <message>
      <source>Largest standardised residual</source>
      <translation>Größte normierte Verbesserung</translation>
    </message>
    <message>
      <source>Unconnected stations</source>
      <translation>Unverbundene Standpunkte</translation>
    </message>
    <message>
      <source>Rejected ties</source>
      <translation>Verworfene Verknüpfungen</translation>
    </message>
    <message>
      <source>Held station (empty: free network)</source>
      <translation>Festgehaltener Standpunkt (leer: freies Netz)</translation>
    </message>
    <message>
      <source>Standard error of a distance (mm)</source>
      <translation>Standardabweichung einer Strecke (mm)</translation>
    </message>
    <message>
      <source>Standard error of an angle (deg)</source>
      <translation>Standardabweichung eines Winkels (Grad)</translation>
    </message>
    <message>
      <source>Use sighted targets</source>
      <translation>Angezielte Marken benutzen</translation>
    </message>
    <message>
      <source>Use overlapping wall faces</source>
      <translation>Überlappende Wandflächen benutzen</translation>
    </message>
    <message>
      <source>Use compass bearings</source>
      <translation>Kompassrichtungen benutzen</translation>
    </message>
    <message>
      <source>Stations as recorded</source>
      <translation>Standpunkte wie aufgenommen</translation>
    </message>
    <message>
      <source>Adjusted stations</source>
      <translation>Ausgeglichene Standpunkte</translation>
    </message>
    <message>
      <source>Adjusted readings</source>
      <translation>Ausgeglichene Messwerte</translation>
    </message>
    <message>
      <source>Targets</source>
      <translation>Zielmarken</translation>
    </message>
    <message>
      <source>Network covariance</source>
      <translation>Kovarianz des Netzes</translation>
    </message>
    <message>
      <source>Report</source>
      <translation>Bericht</translation>
    </message>
    <message>
      <source>HTML files (*.html)</source>
      <translation>HTML-Dateien (*.html)</translation>
    </message>
    <message>
      <source>Build rooms and openings</source>
      <translation>Räume und Öffnungen bilden</translation>
    </message>
    <message>
      <source>Finds rooms where the captures saw free space between wall faces, and the openings between them: doorways with their widths, and stretches that nobody saw, which are not drawn as walls. Areas lie inside the faces at the instrument's height, with their standard errors; reveals of doorways and of windows that showed glass are not counted, other recesses of walls as you choose; the report says what was counted. National measuring standards differ: defer to the local one.

Take the readings that Extract walls returns: they say which wall each lies on.</source>
      <translation>Findet Räume, wo die Aufnahmen freien Raum zwischen Wandflächen sahen, und die Öffnungen dazwischen: Türöffnungen mit ihrer Breite und Strecken, die niemand sah und die nicht als Wand gezeichnet werden. Flächen liegen innerhalb der Wandflächen in Instrumentenhöhe, mit Standardabweichung; Leibungen von Türöffnungen und von Fenstern, die Glas zeigten, zählen nicht, andere Rücksprünge nach Ihrer Wahl; der Bericht sagt, was gezählt wurde. Die nationalen Regeln der Flächenermittlung unterscheiden sich: die örtliche geht vor.

Nehmen Sie die Messwerte, die Wände bestimmen liefert: sie sagen, auf welcher Wand jeder liegt.</translation>
    </message>
    <message>
      <source>Openings</source>
      <translation>Öffnungen</translation>
    </message>
    <message>
      <source>Wall faces</source>
      <translation>Wandflächen</translation>
    </message>
    <message>
      <source>Field of the room's name</source>
      <translation>Feld des Raumnamens</translation>
    </message>
    <message>
      <source>Field of the storey</source>
      <translation>Feld des Geschosses</translation>
    </message>
    <message>
      <source>Field of the area (m²)</source>
      <translation>Feld der Fläche (m²)</translation>
    </message>
    <message>
      <source>Field of the outline's standard error (mm)</source>
      <translation>Feld der Standardabweichung des Umrisses (mm)</translation>
    </message>
    <message>
      <source>Field of the first day of validity</source>
      <translation>Feld des ersten Tages der Gültigkeit</translation>
    </message>
    <message>
      <source>Field of the last day of validity</source>
      <translation>Feld des letzten Tages der Gültigkeit</translation>
    </message>
    <message>
      <source>Field of the date of survey</source>
      <translation>Feld des Aufnahmedatums</translation>
    </message>
    <message>
      <source>Field of the report's SHA-256</source>
      <translation>Feld des SHA-256 des Berichts</translation>
    </message>
    <message>
      <source>Field of the identifier</source>
      <translation>Feld der Kennung</translation>
    </message>
    <message>
      <source>Profile of fields: a kept name, or JSON (fields chosen above come first)</source>
      <translation>Feldprofil: ein behaltener Name oder JSON (oben gewählte Felder gehen vor)</translation>
    </message>
    <message>
      <source>Keep these fields under this name</source>
      <translation>Diese Felder unter diesem Namen behalten</translation>
    </message>
    <message>
      <source>Angle unit</source>
      <translation>Winkeleinheit</translation>
    </message>
    <message>
      <source>Distance unit</source>
      <translation>Streckeneinheit</translation>
    </message>
    <message>
      <source>Sense of rotation</source>
      <translation>Drehsinn</translation>
    </message>
    <message>
      <source>Profile for unmarked text files (empty: the kept one that fits)</source>
      <translation>Profil für unbeschriebene Textdateien (leer: das behaltene, das passt)</translation>
    </message>
    <message>
      <source>Folder of captures, or a capture file</source>
      <translation>Ordner mit Aufnahmen oder eine Aufnahmedatei</translation>
    </message>
    <message>
      <source>Shortest distance used (m)</source>
      <translation>Kürzeste benutzte Strecke (m)</translation>
    </message>
    <message>
      <source>Longest distance used (m)</source>
      <translation>Längste benutzte Strecke (m)</translation>
    </message>
    <message>
      <source>Skip what cannot be read and list it in the report</source>
      <translation>Unlesbares übergehen und im Bericht aufführen</translation>
    </message>
    <message>
      <source>Captures from point layer</source>
      <translation>Aufnahmen aus Punktlayer</translation>
    </message>
    <message>
      <source>Makes captures from layers that you have already: a point layer, say from a drawing or a table, and the points where the instrument stood. Angles and distances are computed from the coordinates; zenith angles and slope distances too where both layers have heights.

Which station a point belongs to is told by a field; without it the nearest station on the point's level is taken, which does not see walls, and the report counts the doubtful ones.

Feet become metres. Layers in degrees are refused: reproject them first. A layer without a coordinate system needs its unit of length. Stations and readings come out where the layers lie; their zero direction is the layer's +y. The standard error of the station points, where it is known, makes them geotags.</source>
      <translation>Bildet Aufnahmen aus Layern, die Sie schon haben: einem Punktlayer, etwa aus einer Zeichnung oder Tabelle, und den Punkten, auf denen das Instrument stand. Winkel und Strecken werden aus den Koordinaten gerechnet, Zenitwinkel und Schrägstrecken auch, wenn beide Layer Höhen haben.

Zu welchem Standpunkt ein Punkt gehört, sagt ein Feld; ohne es gilt der nächste Standpunkt im Geschoss des Punkts, der keine Wände kennt, und der Bericht zählt die zweifelhaften.

Fuß werden Meter. Layer in Grad werden abgelehnt: projizieren Sie sie vorher um. Ein Layer ohne Koordinatensystem braucht seine Längeneinheit. Standpunkte und Messwerte liegen dann, wo die Layer liegen; ihre Nullrichtung ist +y des Layers. Ist die Standardabweichung der Standpunkte bekannt, werden sie zu Geotags.</translation>
    </message>
    <message>
      <source>Station: name</source>
      <translation>Standpunkt: Name</translation>
    </message>
    <message>
      <source>Station: level (0 = ground floor)</source>
      <translation>Standpunkt: Geschoss (0 = Erdgeschoss)</translation>
    </message>
    <message>
      <source>Station: instrument height (m)</source>
      <translation>Standpunkt: Instrumentenhöhe (m)</translation>
    </message>
    <message>
      <source>Point: its station (empty: the nearest)</source>
      <translation>Punkt: sein Standpunkt (leer: der nächste)</translation>
    </message>
    <message>
      <source>Point: level, where the nearest station is taken</source>
      <translation>Punkt: Geschoss, wenn der nächste Standpunkt gilt</translation>
    </message>
    <message>
      <source>Point: name of the target</source>
      <translation>Punkt: Name der Zielmarke</translation>
    </message>
    <message>
      <source>Point: kind (ring, target, surface)</source>
      <translation>Punkt: Art (ring, target, surface)</translation>
    </message>
    <message>
      <source>Point: order of the readings (empty: by angle)</source>
      <translation>Punkt: Reihenfolge der Messwerte (leer: nach Winkel)</translation>
    </message>
    <message>
      <source>Readings</source>
      <translation>Messwerte</translation>
    </message>
    <message>
      <source>Points that were measured</source>
      <translation>Gemessene Punkte</translation>
    </message>
    <message>
      <source>Points where the instrument stood</source>
      <translation>Punkte, auf denen das Instrument stand</translation>
    </message>
    <message>
      <source>Unit of the coordinates</source>
      <translation>Einheit der Koordinaten</translation>
    </message>
    <message>
      <source>Scale factor of the layers (length in the layer over length on the ground)</source>
      <translation>Maßstabsfaktor der Layer (Länge im Layer durch Länge in der Örtlichkeit)</translation>
    </message>
    <message>
      <source>Standard error of the station points (m; empty: they give no geotag)</source>
      <translation>Standardabweichung der Standpunkte (m; leer: kein Geotag)</translation>
    </message>
    <message>
      <source>Earlier ties, with what was decided about them</source>
      <translation>Frühere Verknüpfungen mit dem, was dazu entschieden wurde</translation>
    </message>
    <message>
      <source>Earlier network covariance, for stations that are held</source>
      <translation>Frühere Kovarianz des Netzes, für festgehaltene Standpunkte</translation>
    </message>
    <message>
      <source>Start</source>
      <translation>Anfang</translation>
    </message>
    <message>
      <source>Search all overlaps anew</source>
      <translation>Alle Überlappungen neu suchen</translation>
    </message>
    <message>
      <source>From adjusted stations; search those that are not tied</source>
      <translation>Von ausgeglichenen Standpunkten; unverknüpfte suchen</translation>
    </message>
    <message>
      <source>From adjusted stations; search nothing</source>
      <translation>Von ausgeglichenen Standpunkten; nichts suchen</translation>
    </message>
    <message>
      <source>Starts from the poses of {0} of {1} stations.</source>
      <translation>Beginnt mit der Lage von {0} der {1} Standpunkte.</translation>
    </message>
    <message>
      <source>Compare with building layer</source>
      <translation>Mit Gebäudelayer vergleichen</translation>
    </message>
    <message>
      <source>Matches new rooms with a maintained layer of rooms and says what became of each: unchanged, reshaped, moved, split, merged, new, removed, or unresolved (for a person). A shift of the whole layer is found first and told as one. Each judgement takes the standard errors of both into account.

The layer may be any polygon layer in any coordinate system, with any names of fields; nothing in it is changed. The changes are the input of Update building layer. The report has a map, the areas before and now, and what is wrong in the maintained layer, each with a fix proposed.

Without 'every room was surveyed', an old room of which nothing was seen is left to a person: it may be gone, or nobody went in.</source>
      <translation>Ordnet neue Räume einem gepflegten Raumlayer zu und sagt, was aus jedem wurde: unverändert, umgestaltet, verschoben, geteilt, zusammengelegt, neu, entfallen oder ungeklärt (für eine Person). Eine Verschiebung des ganzen Layers wird zuerst gefunden und als eine genannt. Jedes Urteil berücksichtigt die Standardabweichungen beider.

Der Layer kann jeder Polygonlayer in jedem Koordinatensystem sein, mit beliebigen Feldnamen; an ihm wird nichts geändert. Die Änderungen sind die Eingabe von Gebäudelayer nachführen. Der Bericht enthält eine Karte, die Flächen vorher und jetzt und was im gepflegten Layer falsch ist, jeweils mit einem Vorschlag.

Ohne „Jeder Raum wurde aufgenommen“ bleibt ein alter Raum, von dem nichts gesehen wurde, einer Person überlassen: er kann weg sein, oder niemand ging hinein.</translation>
    </message>
    <message>
      <source>Changes</source>
      <translation>Änderungen</translation>
    </message>
    <message>
      <source>Findings on the layer</source>
      <translation>Befunde zum Layer</translation>
    </message>
    <message>
      <source>Building layer compared</source>
      <translation>Gebäudelayer verglichen</translation>
    </message>
    <message>
      <source>New rooms</source>
      <translation>Neue Räume</translation>
    </message>
    <message>
      <source>Maintained rooms</source>
      <translation>Gepflegte Räume</translation>
    </message>
    <message>
      <source>Outline of what was surveyed</source>
      <translation>Umriss des Aufgenommenen</translation>
    </message>
    <message>
      <source>Standard error of a maintained outline (mm)</source>
      <translation>Standardabweichung eines gepflegten Umrisses (mm)</translation>
    </message>
    <message>
      <source>Standard error of a new outline that gives none (mm)</source>
      <translation>Standardabweichung eines neuen Umrisses ohne Angabe (mm)</translation>
    </message>
    <message>
      <source>Confidence of the judgements (%)</source>
      <translation>Sicherheit der Urteile (%)</translation>
    </message>
    <message>
      <source>Storey (empty: all)</source>
      <translation>Geschoss (leer: alle)</translation>
    </message>
    <message>
      <source>Every room was surveyed: what is not there is gone</source>
      <translation>Jeder Raum wurde aufgenommen: was nicht da ist, ist weg</translation>
    </message>
    <message>
      <source>Bring new outlines to where the layer lies, if it is shifted</source>
      <translation>Neue Umrisse dorthin bringen, wo der Layer liegt, falls er verschoben ist</translation>
    </message>
    <message>
      <source>Rooms changed</source>
      <translation>Geänderte Räume</translation>
    </message>
    <message>
      <source>Rooms unresolved</source>
      <translation>Ungeklärte Räume</translation>
    </message>
    <message>
      <source>Number of findings</source>
      <translation>Zahl der Befunde</translation>
    </message>
    <message>
      <source>Compare with taped distances</source>
      <translation>Mit Bandmaßen vergleichen</translation>
    </message>
    <message>
      <source>Holds taped distances against the plan. The table has a row for each: from_ref and to_ref name what was taped (a wall such as W012, a corner as its two walls W012/W013, or a target), taped_m the length, sigma_taped_mm its standard error if it has one.

Between two walls the distance is square to them from the middle of what they face each other; from a corner or target to a wall square to the wall; between points straight. Each difference is judged by the errors of both (95 %). The accuracy asked for is decided from all distances together; none of them takes part in the adjustment.

The layers may lie in plan coordinates or on the site: distances are those on the ground.</source>
      <translation>Hält Bandmaße gegen den Plan. Die Tabelle hat für jedes eine Zeile: from_ref und to_ref nennen, was gemessen wurde (eine Wand wie W012, eine Ecke als ihre zwei Wände W012/W013 oder eine Zielmarke), taped_m die Länge, sigma_taped_mm die Standardabweichung, falls bekannt.

Zwischen zwei Wänden gilt die Strecke rechtwinklig dazu von der Mitte dessen, was sie einander zuwenden; von einer Ecke oder Marke zu einer Wand rechtwinklig zur Wand; zwischen Punkten gerade. Jede Differenz wird nach den Abweichungen beider beurteilt (95 %). Ob die verlangte Genauigkeit erreicht ist, entscheiden alle Strecken zusammen; keine geht in die Ausgleichung ein.

Die Layer dürfen in Plankoordinaten oder in der Örtlichkeit liegen: Strecken gelten am Boden.</translation>
    </message>
    <message>
      <source>Taped distances compared</source>
      <translation>Verglichene Bandmaße</translation>
    </message>
    <message>
      <source>Plot scale of the walls (empty: the finest there is)</source>
      <translation>Planmaßstab der Wände (leer: der feinste vorhandene)</translation>
    </message>
    <message>
      <source>Standard error of a taped distance where the table gives none (mm)</source>
      <translation>Standardabweichung eines Bandmaßes ohne Angabe (mm)</translation>
    </message>
    <message>
      <source>Accuracy asked for: standard error of a distance (mm)</source>
      <translation>Verlangte Genauigkeit: Standardabweichung einer Strecke (mm)</translation>
    </message>
    <message>
      <source>Distances compared</source>
      <translation>Verglichene Strecken</translation>
    </message>
    <message>
      <source>Distances beyond tolerance</source>
      <translation>Strecken außerhalb der Toleranz</translation>
    </message>
    <message>
      <source>Root mean square of the differences (mm)</source>
      <translation>Quadratisches Mittel der Differenzen (mm)</translation>
    </message>
    <message>
      <source>Turn walls to the building's axes</source>
      <translation>Wände in die Gebäudeachsen drehen</translation>
    </message>
    <message>
      <source>Standard errors within which the readings cannot tell a wall from an axis (2.576: 99 %)</source>
      <translation>Standardabweichungen, innerhalb derer die Messwerte eine Wand nicht von einer Achse unterscheiden (2,576: 99 %)</translation>
    </message>
    <message>
      <source>Count recesses of walls (niches, closed doors in their reveals) to room areas</source>
      <translation>Rücksprünge der Wände (Nischen, geschlossene Türen in ihrer Leibung) zur Raumfläche zählen</translation>
    </message>
    <message>
      <source>Earlier plan that the captures join</source>
      <translation>Früherer Plan, dem sich die Aufnahmen anschließen</translation>
    </message>
    <message>
      <source>Stations of the earlier plan</source>
      <translation>Standpunkte des früheren Plans</translation>
    </message>
    <message>
      <source>A capture with the name of an earlier one</source>
      <translation>Eine Aufnahme mit dem Namen einer früheren</translation>
    </message>
    <message>
      <source>Place of the earlier plan</source>
      <translation>Lage des früheren Plans</translation>
    </message>
    <message>
      <source>GeoPackage files (*.gpkg)</source>
      <translation>GeoPackage-Dateien (*.gpkg)</translation>
    </message>
    <message>
      <source>Export drawing</source>
      <translation>Zeichnung ausgeben</translation>
    </message>
    <message>
      <source>Writes a plan as a DXF drawing for CAD: walls at the chosen plot scales, openings, rooms as closed polylines with name and area, survey control, stations, survey notes with date and accuracy, and the readings if you want them. The header states the unit. Layers are named after ISO 13567: who, what, how shown, storey, scale.

Plot scales and storeys lie over each other, each on its own layers: the finest scale of the ground floor is switched on, the others off.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor.</source>
      <translation>Schreibt einen Plan als DXF-Zeichnung für CAD: Wände in den gewählten Planmaßstäben, Öffnungen, Räume als geschlossene Polylinien mit Name und Fläche, Passpunkte, Standpunkte, Vermerke zur Vermessung mit Datum und Genauigkeit und auf Wunsch die Messwerte. Der Kopf nennt die Einheit. Die Layer heißen nach ISO 13567: wer, was, wie dargestellt, Geschoss, Maßstab.

Planmaßstäbe und Geschosse liegen übereinander, jeweils auf eigenen Layern: der feinste Maßstab des Erdgeschosses ist eingeschaltet, die übrigen aus.

Ein Plan ist kein Standsicherheitsnachweis und keine Grenzurkunde: maßgebend sind die örtlichen Vorschriften und befugte Vermesser.</translation>
    </message>
    <message>
      <source>Coordinates</source>
      <translation>Koordinaten</translation>
    </message>
    <message>
      <source>With readings</source>
      <translation>Mit Messwerten</translation>
    </message>
    <message>
      <source>Drawing</source>
      <translation>Zeichnung</translation>
    </message>
    <message>
      <source>DXF files (*.dxf)</source>
      <translation>DXF-Dateien (*.dxf)</translation>
    </message>
    <message>
      <source>Export indoor map</source>
      <translation>Innenraumkarte ausgeben</translation>
    </message>
    <message>
      <source>Writes rooms and doorways of a plan as an archive of the Indoor Mapping Data Format 1.0.0 (OGC community standard 20-094): venue, address, building, footprints, storeys, units and openings in WGS 84, and which rooms a doorway joins. The plan must be georeferenced.

What only a person knows (category of the venue, address, names of storeys, use of rooms) can be given here; what is not gets a stand-in that the standard allows, and the report lists each.

Windows and stretches that nobody saw are left out: an opening of the standard is an entrance. The same plan gives the same bytes.

A plan is not a structural or boundary document, and this is no plan of escape routes: defer to local codes and a licensed surveyor.</source>
      <translation>Schreibt Räume und Türöffnungen eines Plans als Archiv im Indoor Mapping Data Format 1.0.0 (OGC-Community-Standard 20-094): Anwesen, Adresse, Gebäude, Umrisse, Geschosse, Einheiten und Öffnungen in WGS 84, und welche Räume eine Tür verbindet. Der Plan muss georeferenziert sein.

Was nur eine Person weiß (Kategorie des Anwesens, Adresse, Namen der Geschosse, Nutzung der Räume), kann hier angegeben werden; für den Rest steht ein Platzhalter, den der Standard erlaubt, und der Bericht führt jeden auf.

Fenster und nicht eingesehene Strecken bleiben weg: eine Öffnung des Standards ist ein Eingang. Derselbe Plan ergibt dieselben Bytes.

Ein Plan ist kein Standsicherheitsnachweis und keine Grenzurkunde, und dies ist kein Rettungswegplan: maßgebend sind die örtlichen Vorschriften und befugte Vermesser.</translation>
    </message>
    <message>
      <source>Plot scale (empty: the finest of the plan)</source>
      <translation>Planmaßstab (leer: der feinste des Plans)</translation>
    </message>
    <message>
      <source>Thickness of the outer walls (m)</source>
      <translation>Dicke der Außenwände (m)</translation>
    </message>
    <message>
      <source>Date and time of the archive (empty: when the plan was written)</source>
      <translation>Datum und Zeit des Archivs (leer: wann der Plan geschrieben wurde)</translation>
    </message>
    <message>
      <source>Indoor map</source>
      <translation>Innenraumkarte</translation>
    </message>
    <message>
      <source>IMDF archives (*.zip)</source>
      <translation>IMDF-Archive (*.zip)</translation>
    </message>
    <message>
      <source>Units</source>
      <translation>Einheiten</translation>
    </message>
    <message>
      <source>Choices left to a person</source>
      <translation>Einer Person überlassene Wahl</translation>
    </message>
    <message>
      <source>Indoor map {name}</source>
      <translation>Innenraumkarte {name}</translation>
    </message>
    <message>
      <source>Extract walls</source>
      <translation>Wände bestimmen</translation>
    </message>
    <message>
      <source>Fits straight wall faces to the adjusted readings, each weighted by range, angle and incidence; the faces of one wall seen from several stations become one. Each plot scale gets its own drawing within 0.25 mm on paper. A face is turned to a building axis only where its own standard error cannot tell the difference (or as you choose), and the turn is kept with it; the report lists every face that was turned, and every face that was left out of square with its angle and standard error.

A plan is not a structural or boundary document.</source>
      <translation>Legt gerade Wandflächen durch die ausgeglichenen Messwerte, jeden nach Strecke, Winkel und Auftreffwinkel gewichtet; die Flächen einer Wand, die mehrere Standpunkte sehen, werden eine. Jeder Planmaßstab erhält seine eigene Zeichnung innerhalb von 0,25 mm auf dem Papier. Eine Fläche wird nur dann in eine Gebäudeachse gedreht, wenn ihre eigene Standardabweichung den Unterschied nicht erkennt (oder wie Sie wählen), und die Drehung wird mitgeführt; der Bericht nennt jede gedrehte Fläche und jede, die nicht im rechten Winkel blieb, mit Winkel und Standardabweichung.

Ein Plan ist kein Standsicherheitsnachweis und keine Grenzurkunde.</translation>
    </message>
    <message>
      <source>Readings with their walls</source>
      <translation>Messwerte mit ihren Wänden</translation>
    </message>
    <message>
      <source>Walls</source>
      <translation>Wände</translation>
    </message>
    <message>
      <source>Own tolerance (mm on the building; empty: 0.25 mm at the plot scale)</source>
      <translation>Eigene Toleranz (mm am Gebäude; leer: 0,25 mm im Planmaßstab)</translation>
    </message>
    <message>
      <source>Building outlines of the site map</source>
      <translation>Gebäudeumrisse des Lageplans</translation>
    </message>
    <message>
      <source>Standard error of an outline's edge (mm)</source>
      <translation>Standardabweichung einer Umrisskante (mm)</translation>
    </message>
    <message>
      <source>Georeference plan</source>
      <translation>Plan georeferenzieren</translation>
    </message>
    <message>
      <source>Places plan layers on the earth by one weighted fit of east, north and rotation to what there is: geotags, compass bearings corrected for declination and convergence, and control points. Bearings are tested against each other, so that a compass bent by steel is found and left out.

Move coordinates writes the layers in the target CRS, scaled from ground to grid. Site grid keeps the plan's own axes and true distances in a derived CRS that the host reprojects exactly. Layers that were georeferenced before are taken back to plan coordinates by their stations and fitted again, as often as you like. With rooms among the layers, an error band shows where the plan's outside may lie (95 %).

A plan is not a boundary document: defer to a licensed surveyor.</source>
      <translation>Legt Planlayer auf die Erde durch eine gewichtete Einpassung von Ost, Nord und Drehung in das Vorhandene: Geotags, um Deklination und Konvergenz verbesserte Kompassrichtungen und Passpunkte. Richtungen werden gegeneinander geprüft, sodass ein durch Stahl abgelenkter Kompass gefunden und ausgelassen wird.

„move coordinates“ schreibt die Layer im Ziel-KBS, vom Boden in das Gitter maßstäblich umgerechnet. „site grid“ behält die Achsen des Plans und wahre Strecken in einem abgeleiteten KBS, das der Host genau umprojiziert. Schon georeferenzierte Layer werden durch ihre Standpunkte in Plankoordinaten zurückgeführt und neu eingepasst, so oft Sie wollen. Sind Räume dabei, zeigt ein Fehlerband, wo die Außenseite des Plans liegen kann (95 %).

Ein Plan ist keine Grenzurkunde: maßgebend sind befugte Vermesser.</translation>
    </message>
    <message>
      <source>Declination (deg)</source>
      <translation>Deklination (Grad)</translation>
    </message>
    <message>
      <source>Convergence (deg)</source>
      <translation>Konvergenz (Grad)</translation>
    </message>
    <message>
      <source>Combined scale factor</source>
      <translation>Gesamtmaßstabsfaktor</translation>
    </message>
    <message>
      <source>Rotation: grid azimuth of plan north (deg)</source>
      <translation>Drehung: Gitterazimut von Plan-Nord (Grad)</translation>
    </message>
    <message>
      <source>Standard error of the rotation (deg)</source>
      <translation>Standardabweichung der Drehung (Grad)</translation>
    </message>
    <message>
      <source>Standard error of the east (m)</source>
      <translation>Standardabweichung des Ostwerts (m)</translation>
    </message>
    <message>
      <source>Standard error of the north (m)</source>
      <translation>Standardabweichung des Nordwerts (m)</translation>
    </message>
    <message>
      <source>Plan layers</source>
      <translation>Planlayer</translation>
    </message>
    <message>
      <source>Targets (needed for control points)</source>
      <translation>Zielmarken (für Passpunkte nötig)</translation>
    </message>
    <message>
      <source>Georeferenced plan</source>
      <translation>Georeferenzierter Plan</translation>
    </message>
    <message>
      <source>Site grid CRS (WKT)</source>
      <translation>KBS des örtlichen Gitters (WKT)</translation>
    </message>
    <message>
      <source>From Debian 13 on: apt install python3-shapely. On Debian 12, whose GEOS is that of shapely 2.0: {command}</source>
      <translation>Ab Debian 13: apt install python3-shapely. Auf Debian 12, dessen GEOS das von shapely 2.0 ist: {command}</translation>
    </message>
    <message>
      <source>The host's Python lacks {packages}. {how}</source>
      <translation>Dem Python des Hosts fehlt {packages}. {how}</translation>
    </message>
    <message>
      <source>The host's Python has shapely {found}, expected 2 or newer. {how}</source>
      <translation>Das Python des Hosts hat shapely {found}, erwartet wird 2 oder neuer. {how}</translation>
    </message>
    <message>
      <source>shapely was built with GEOS {own}, the host with {hosts}; both in one process would crash the host. Install a shapely with the host's GEOS: {how}</source>
      <translation>shapely wurde mit GEOS {own} gebaut, der Host mit {hosts}; beide in einem Prozess ließen den Host abstürzen. Installieren Sie ein shapely mit dem GEOS des Hosts: {how}</translation>
    </message>
    <message>
      <source>Install it from the shell of the host's own Python: {command}</source>
      <translation>Installieren Sie es aus der Eingabeaufforderung des Python des Hosts: {command}</translation>
    </message>
    <message>
      <source>The host's Python cannot load {packages}: {why}. {how}</source>
      <translation>Das Python des Hosts kann {packages} nicht laden: {why}. {how}</translation>
    </message>
    <message>
      <source>a package</source>
      <translation>ein Paket</translation>
    </message>
    <message>
      <source>Import polar captures</source>
      <translation>Polare Aufnahmen einlesen</translation>
    </message>
    <message>
      <source>Reads polar captures (capture text, laser scan JSON or LandXML, told apart by content) from a file or a folder, checks every reading and lays the stations out for inspection: by geotag and compass where the files give them, else side by side.

Text files that do not say what their columns are need a profile: describe them once in the menu Roomtie, Describe a text file.

Nothing is left out silently: a reading that is not used carries a flag that says why. The report shows each station's ring and what should be measured again.

Laser safety: observe the class on the instrument's own label.</source>
      <translation>Liest polare Aufnahmen (Aufnahmetext, Laserscan-JSON oder LandXML, am Inhalt erkannt) aus einer Datei oder einem Ordner, prüft jeden Messwert und legt die Standpunkte zur Durchsicht aus: nach Geotag und Kompass, wo die Dateien sie enthalten, sonst nebeneinander.

Textdateien, die nicht sagen, was ihre Spalten sind, brauchen ein Profil: beschreiben Sie sie einmal im Menü Roomtie, Textdatei beschreiben.

Nichts wird stillschweigend ausgelassen: ein nicht benutzter Messwert trägt eine Kennzeichnung, die sagt, warum. Der Bericht zeigt den Ring jedes Standpunkts und was noch einmal zu messen ist.

Lasersicherheit: beachten Sie die Klasse auf dem Schild des Instruments.</translation>
    </message>
    <message>
      <source>Name of the venue (empty: that of the plan)</source>
      <translation>Name des Anwesens (leer: der des Plans)</translation>
    </message>
    <message>
      <source>Name of the building (empty: that of the venue)</source>
      <translation>Name des Gebäudes (leer: der des Anwesens)</translation>
    </message>
    <message>
      <source>Address: street and number</source>
      <translation>Adresse: Straße und Hausnummer</translation>
    </message>
    <message>
      <source>Address: suite or unit</source>
      <translation>Adresse: Einheit</translation>
    </message>
    <message>
      <source>Address: postal code</source>
      <translation>Adresse: Postleitzahl</translation>
    </message>
    <message>
      <source>Address: locality</source>
      <translation>Adresse: Ort</translation>
    </message>
    <message>
      <source>Address: province (ISO 3166-2, such as IT-BZ)</source>
      <translation>Adresse: Provinz (ISO 3166-2, etwa IT-BZ)</translation>
    </message>
    <message>
      <source>Address: country (ISO 3166-1, such as IT)</source>
      <translation>Adresse: Land (ISO 3166-1, etwa IT)</translation>
    </message>
    <message>
      <source>Language of the names (BCP 47)</source>
      <translation>Sprache der Namen (BCP 47)</translation>
    </message>
    <message>
      <source>Names of the storeys, such as 0=Ground floor|G; 1=First floor|1</source>
      <translation>Namen der Geschosse, etwa 0=Erdgeschoss|EG; 1=1. Obergeschoss|1</translation>
    </message>
    <message>
      <source>Field of the rooms that tells their category</source>
      <translation>Feld der Räume, das ihre Kategorie sagt</translation>
    </message>
    <message>
      <source>What its words mean, such as WC=restroom; Office=office</source>
      <translation>Was seine Wörter bedeuten, etwa WC=restroom; Büro=office</translation>
    </message>
    <message>
      <source>Field of the openings that tells their category</source>
      <translation>Feld der Öffnungen, das ihre Kategorie sagt</translation>
    </message>
    <message>
      <source>Category of rooms of which nothing is known</source>
      <translation>Kategorie von Räumen, über die nichts bekannt ist</translation>
    </message>
    <message>
      <source>Category of the venue</source>
      <translation>Kategorie des Anwesens</translation>
    </message>
    <message>
      <source>Correct the instrument's systematic errors where the network tells them</source>
      <translation>Systematische Abweichungen des Instruments berichtigen, wo das Netz sie erkennt</translation>
    </message>
    <message>
      <source>Calibration captures (one room from several positions)</source>
      <translation>Kalibrieraufnahmen (ein Raum von mehreren Plätzen)</translation>
    </message>
    <message>
      <source>Calibration</source>
      <translation>Kalibrierung</translation>
    </message>
    <message>
      <source>Level {level}</source>
      <translation>Geschoss {level}</translation>
    </message>
    <message>
      <source>Plan from captures</source>
      <translation>Plan aus Aufnahmen</translation>
    </message>
    <message>
      <source>From a folder of captures to a georeferenced plan: imports and checks the captures, ties and adjusts the stations, fits the walls, finds rooms and openings at each plot scale and places the plan by geotags, compass bearings and control points. The result is one GeoPackage with all layers and their styles, a report to read, and beside it the same report as JSON.

A survey without geotag and control stays in plan coordinates and says so.

With an earlier plan its captures go on, and new ones join them: names of rooms, windows and doors marked by hand, choices about stations and ties, fields and styles that were added, and identifiers of walls and rooms stay. Without new captures the plan is adjusted and drawn again. The result may be written over the earlier plan, which is then kept beside it.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor. Laser safety: observe the class on the instrument's own label.</source>
      <translation>Von einem Ordner mit Aufnahmen zum georeferenzierten Plan: liest und prüft die Aufnahmen, verknüpft und gleicht die Standpunkte aus, bestimmt die Wände, findet Räume und Öffnungen in jedem Planmaßstab und legt den Plan nach Geotags, Kompassrichtungen und Passpunkten. Das Ergebnis ist ein GeoPackage mit allen Layern und ihren Stilen, ein Bericht zum Lesen und daneben derselbe als JSON.

Eine Vermessung ohne Geotag und Passpunkte bleibt in Plankoordinaten und sagt es.

Mit einem früheren Plan gehen dessen Aufnahmen weiter, und neue schließen sich an: Namen von Räumen, von Hand bezeichnete Fenster und Türen, Entscheidungen zu Standpunkten und Verknüpfungen, hinzugefügte Felder und Stile und die Kennungen von Wänden und Räumen bleiben. Ohne neue Aufnahmen wird der Plan neu ausgeglichen und gezeichnet. Das Ergebnis darf über den früheren Plan geschrieben werden, der dann daneben aufbewahrt wird.

Ein Plan ist kein Standsicherheitsnachweis und keine Grenzurkunde: maßgebend sind die örtlichen Vorschriften und befugte Vermesser. Lasersicherheit: beachten Sie die Klasse auf dem Schild des Instruments.</translation>
    </message>
    <message>
      <source>Plan {name}</source>
      <translation>Plan {name}</translation>
    </message>
    <message>
      <source>Plan sheet</source>
      <translation>Planblatt</translation>
    </message>
    <message>
      <source>Puts a plan on paper at a true plot scale: PDF, one sheet a storey, with scale bar, plan north and grid north, title block, area schedule, accuracy, datum and cautions. The layout stays in the project, to be edited and exported again.

The scale is that of the ground: where a plan lies in a grid, distances on the sheet are ground distances, the combined scale factor taken out. Print without fitting to the page.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor.</source>
      <translation>Bringt einen Plan in wahrem Planmaßstab aufs Papier: PDF, ein Blatt je Geschoss, mit Maßstabsleiste, Plan-Nord und Gitter-Nord, Schriftfeld, Flächenverzeichnis, Genauigkeit, Bezug und Warnhinweisen. Das Layout bleibt im Projekt, zum Bearbeiten und erneuten Ausgeben.

Der Maßstab gilt am Boden: liegt ein Plan in einem Gitter, sind Strecken auf dem Blatt Bodenstrecken, der Gesamtmaßstabsfaktor ist herausgerechnet. Drucken Sie ohne Anpassung an die Seite.

Ein Plan ist kein Standsicherheitsnachweis und keine Grenzurkunde: maßgebend sind die örtlichen Vorschriften und befugte Vermesser.</translation>
    </message>
    <message>
      <source>Plot scale</source>
      <translation>Planmaßstab</translation>
    </message>
    <message>
      <source>Paper</source>
      <translation>Papier</translation>
    </message>
    <message>
      <source>Level (empty: all, one sheet each)</source>
      <translation>Geschoss (leer: alle, je ein Blatt)</translation>
    </message>
    <message>
      <source>Sheets</source>
      <translation>Blätter</translation>
    </message>
    <message>
      <source>PDF files (*.pdf)</source>
      <translation>PDF-Dateien (*.pdf)</translation>
    </message>
    <message>
      <source>Sheets {name}</source>
      <translation>Blätter {name}</translation>
    </message>
    <message>
      <source>none</source>
      <translation>keine</translation>
    </message>
    <message>
      <source>Area schedule (m²)</source>
      <translation>Flächenverzeichnis (m²)</translation>
    </message>
    <message>
      <source>Plan north</source>
      <translation>Plan-Nord</translation>
    </message>
    <message>
      <source>Sum</source>
      <translation>Summe</translation>
    </message>
    <message>
      <source>Grid north</source>
      <translation>Gitter-Nord</translation>
    </message>
    <message>
      <source>

Target CRS: empty means the project's where it is projected, else the UTM zone of the geotags. Date and height: empty means as in the captures. Control points: a point layer, or a table with east_m and north_m in the target CRS; sigma_mm where known (else 10 mm); empty means the coordinates that LandXML files among the captures give. Building outlines: a polygon layer of the site map; the plan's outside is fitted to the building it lies in.</source>
      <translation>

Ziel-KBS: leer heißt das des Projekts, wenn es projiziert ist, sonst die UTM-Zone der Geotags. Datum und Höhe: leer heißt wie in den Aufnahmen. Passpunkte: ein Punktlayer oder eine Tabelle mit east_m und north_m im Ziel-KBS; sigma_mm, wo bekannt (sonst 10 mm); leer heißt die Koordinaten, die LandXML-Dateien unter den Aufnahmen angeben. Gebäudeumrisse: ein Polygonlayer des Lageplans; die Außenseite des Plans wird in das Gebäude eingepasst, in dem sie liegt.</translation>
    </message>
    <message>
      <source>Date of the declination (YYYY-MM-DD)</source>
      <translation>Datum der Deklination (JJJJ-MM-TT)</translation>
    </message>
    <message>
      <source>Ellipsoidal height (m)</source>
      <translation>Ellipsoidische Höhe (m)</translation>
    </message>
    <message>
      <source>Control points</source>
      <translation>Passpunkte</translation>
    </message>
    <message>
      <source>Field with the target's name</source>
      <translation>Feld mit dem Namen der Marke</translation>
    </message>
    <message>
      <source>Result</source>
      <translation>Ergebnis</translation>
    </message>
    <message>
      <source>Network covariance (without it stations count as uncorrelated)</source>
      <translation>Kovarianz des Netzes (ohne sie gelten Standpunkte als unkorreliert)</translation>
    </message>
    <message>
      <source>Nearest target that is well placed (m)</source>
      <translation>Nächste Zielmarke, die gut steht (m)</translation>
    </message>
    <message>
      <source>Farthest target that is well placed (m)</source>
      <translation>Fernste Zielmarke, die gut steht (m)</translation>
    </message>
    <message>
      <source>Largest slant of a target's surface to the beam (deg)</source>
      <translation>Größte Schräge der Fläche einer Zielmarke zum Strahl (Grad)</translation>
    </message>
    <message>
      <source>Least angle at which lines of sight should cut (deg)</source>
      <translation>Kleinster Winkel, unter dem Visuren sich schneiden sollten (Grad)</translation>
    </message>
    <message>
      <source>Update building layer</source>
      <translation>Gebäudelayer nachführen</translation>
    </message>
    <message>
      <source>Brings accepted changes of Compare with building layer into the maintained layer: new outlines, with identifiers and every other attribute kept. Of a split the largest part keeps the identifier and all parts its attributes; a merged room goes on as the old room it has most of. Rooms that end keep their row with a last day of validity where there is such a field, else they go to a history table.

All is one transaction: everything or nothing. A room that somebody changed since it was compared stops the update before anything is written. A dry run does all of it, triggers and foreign keys included, and takes it back. The undo file brings the old state back.

A shapefile, or another format without transactions, is not touched: a changed copy is written.</source>
      <translation>Bringt angenommene Änderungen aus Mit Gebäudelayer vergleichen in den gepflegten Layer: neue Umrisse, Kennungen und alle anderen Attribute bleiben. Bei einer Teilung behält der größte Teil die Kennung und alle Teile ihre Attribute; ein zusammengelegter Raum geht als der alte weiter, von dem er am meisten hat. Räume, die enden, behalten ihre Zeile mit einem letzten Tag der Gültigkeit, wo es ein solches Feld gibt, sonst kommen sie in eine Verlaufstabelle.

Alles ist eine Transaktion: alles oder nichts. Ein Raum, den jemand seit dem Vergleich geändert hat, hält die Nachführung an, bevor etwas geschrieben ist. Ein Probelauf tut alles, mit Triggern und Fremdschlüsseln, und nimmt es zurück. Die Rücknahmedatei stellt den alten Stand wieder her.

Ein Shapefile oder ein anderes Format ohne Transaktionen wird nicht angerührt: geschrieben wird eine geänderte Kopie.</translation>
    </message>
    <message>
      <source>Changes to make, of those accepted</source>
      <translation>Vorzunehmende unter den angenommenen Änderungen</translation>
    </message>
    <message>
      <source>Dry run</source>
      <translation>Probelauf</translation>
    </message>
    <message>
      <source>Write areas into their field</source>
      <translation>Flächen in ihr Feld schreiben</translation>
    </message>
    <message>
      <source>Date of survey (ISO 8601; empty: today)</source>
      <translation>Aufnahmedatum (ISO 8601; leer: heute)</translation>
    </message>
    <message>
      <source>Report whose SHA-256 is kept</source>
      <translation>Bericht, dessen SHA-256 behalten wird</translation>
    </message>
    <message>
      <source>Undo file of an earlier update, to take it back (instead of changes)</source>
      <translation>Rücknahmedatei einer früheren Nachführung, um sie zurückzunehmen (statt Änderungen)</translation>
    </message>
    <message>
      <source>Undo file</source>
      <translation>Rücknahmedatei</translation>
    </message>
    <message>
      <source>JSON (*.json)</source>
      <translation>JSON (*.json)</translation>
    </message>
    <message>
      <source>Copy, for a format without transactions</source>
      <translation>Kopie, für ein Format ohne Transaktionen</translation>
    </message>
    <message>
      <source>Shapefile (*.shp)</source>
      <translation>Shapefile (*.shp)</translation>
    </message>
    <message>
      <source>The layer</source>
      <translation>Der Layer</translation>
    </message>
    <message>
      <source>Rows changed</source>
      <translation>Geänderte Zeilen</translation>
    </message>
    <message>
      <source>Building layer updated</source>
      <translation>Gebäudelayer nachgeführt</translation>
    </message>
    <message>
      <source>Walls generalised for 1:{scale}, tolerance {tolerance:g} mm on the building; largest RMS of a face {rms:.1f} mm.</source>
      <translation>Wände für 1:{scale} generalisiert, Toleranz {tolerance:g} mm am Gebäude; größtes quadratisches Mittel einer Wandfläche {rms:.1f} mm.</translation>
    </message>
    <message>
      <source>The accuracy of the site fit is in the survey report.</source>
      <translation>Die Genauigkeit der Einpassung steht im Vermessungsbericht.</translation>
    </message>
    <message>
      <source>Not a structural or boundary document: defer to local codes and a licensed surveyor.</source>
      <translation>Kein Standsicherheitsnachweis und keine Grenzurkunde: maßgebend sind die örtlichen Vorschriften und befugte Vermesser.</translation>
    </message>
    <message>
      <source>Laser safety: observe the class on the instrument's own label.</source>
      <translation>Lasersicherheit: beachten Sie die Klasse auf dem Schild des Instruments.</translation>
    </message>
    <message>
      <source>{first} to {last}</source>
      <translation>{first} bis {last}</translation>
    </message>
    <message>
      <source>{count} stations</source>
      <translation>{count} Standpunkte</translation>
    </message>
    <message>
      <source>{stations}, standard errors not known.</source>
      <translation>{stations}, Standardabweichungen nicht bekannt.</translation>
    </message>
    <message>
      <source>Walls generalised for 1:{scale}, tolerance {tolerance:g} mm on the building.</source>
      <translation>Wände für 1:{scale} generalisiert, Toleranz {tolerance:g} mm am Gebäude.</translation>
    </message>
    <message>
      <source>Plan coordinates (local, metres); not georeferenced.</source>
      <translation>Plankoordinaten (örtlich, Meter); nicht georeferenziert.</translation>
    </message>
    <message>
      <source>Drawn in plan coordinates (local, metres); georeferenced in {crs}.</source>
      <translation>In Plankoordinaten gezeichnet (örtlich, Meter); georeferenziert in {crs}.</translation>
    </message>
    <message>
      <source>Coordinates in {crs}.</source>
      <translation>Koordinaten in {crs}.</translation>
    </message>
    <message>
      <source>Site fit (1 sigma): east {east:.3f} m, north {north:.3f} m, rotation {turn:.3f} deg.</source>
      <translation>Einpassung (1 Sigma): Ost {east:.3f} m, Nord {north:.3f} m, Drehung {turn:.3f} Grad.</translation>
    </message>
    <message>
      <source>Site fit (1 sigma): east {east:.3f} m, north {north:.3f} m.</source>
      <translation>Einpassung (1 Sigma): Ost {east:.3f} m, Nord {north:.3f} m.</translation>
    </message>
    <message>
      <source>Site fit (1 sigma): rotation {turn:.3f} deg.</source>
      <translation>Einpassung (1 Sigma): Drehung {turn:.3f} Grad.</translation>
    </message>
    <message>
      <source>{stations}; largest standard error of a station (1 sigma) {error:.1f} mm, relative to the datum of the network.</source>
      <translation>{stations}; größte Standardabweichung eines Standpunkts (1 Sigma) {error:.1f} mm, bezogen auf das Datum des Netzes.</translation>
    </message>
    <message>
      <source>{stations}; largest standard error of a station (1 sigma) {error:.1f} mm, of an orientation {turned:.3f} deg, relative to the datum of the network.</source>
      <translation>{stations}; größte Standardabweichung eines Standpunkts (1 Sigma) {error:.1f} mm, einer Orientierung {turned:.3f} Grad, bezogen auf das Datum des Netzes.</translation>
    </message>
    <message>
      <source>{count} without a tie, sketched by compass and geotag: do not scale from there.</source>
      <translation>{count} ohne Verknüpfung, nach Kompass und Geotag skizziert: dort nicht abgreifen.</translation>
    </message>
    <message>
      <source>Surveyed: {dates}</source>
      <translation>Aufgenommen: {dates}</translation>
    </message>
    <message>
      <source>Surveyed: date not recorded</source>
      <translation>Aufgenommen: Datum nicht festgehalten</translation>
    </message>
    <message>
      <source>Level 0 (ground)</source>
      <translation>Geschoss 0 (Erdgeschoss)</translation>
    </message>
    <message>
      <source>{size} landscape</source>
      <translation>{size} quer</translation>
    </message>
    <message>
      <source>{size} portrait</source>
      <translation>{size} hoch</translation>
    </message>
    <message>
      <source>Drawn at ground scale: a ground distance is its grid distance divided by the combined scale factor {factor:.6f}.</source>
      <translation>Im Maßstab der Örtlichkeit gezeichnet: eine Strecke am Boden ist ihre Gitterstrecke durch den Gesamtmaßstabsfaktor {factor:.6f}.</translation>
    </message>
    <message>
      <source>Title</source>
      <translation>Titel</translation>
    </message>
    <message>
      <source>Document type</source>
      <translation>Dokumentart</translation>
    </message>
    <message>
      <source>Plan of existing interior</source>
      <translation>Bestandsplan der Innenräume</translation>
    </message>
    <message>
      <source>Storey</source>
      <translation>Geschoss</translation>
    </message>
    <message>
      <source>Scale</source>
      <translation>Maßstab</translation>
    </message>
    <message>
      <source>1:{scale} (ground) on {paper}</source>
      <translation>1:{scale} (am Boden) auf {paper}</translation>
    </message>
    <message>
      <source>Date of survey</source>
      <translation>Aufnahmedatum</translation>
    </message>
    <message>
      <source>Coordinate system</source>
      <translation>Koordinatensystem</translation>
    </message>
    <message>
      <source>Sheet</source>
      <translation>Blatt</translation>
    </message>
    <message>
      <source>not recorded</source>
      <translation>nicht festgehalten</translation>
    </message>
    <message>
      <source>plan coordinates (local)</source>
      <translation>Plankoordinaten (örtlich)</translation>
    </message>
    <message>
      <source>unnamed</source>
      <translation>ohne Namen</translation>
    </message>
    <message>
      <source>not known</source>
      <translation>nicht bekannt</translation>
    </message>
    <message>
      <source>Accuracy. {sentence}</source>
      <translation>Genauigkeit. {sentence}</translation>
    </message>
    <message>
      <source>Datum. {sentence}</source>
      <translation>Bezug. {sentence}</translation>
    </message>
    <message>
      <source>Ellipses at stations: 95 %, drawn 100 times too large. Dashed: seen by no reading.</source>
      <translation>Ellipsen an Standpunkten: 95 %, 100-fach überhöht. Gestrichelt: von keinem Messwert gesehen.</translation>
    </message>
    <message>
      <source>Areas are between wall faces at the instrument's height; ± is one standard error.</source>
      <translation>Flächen liegen zwischen den Wandflächen in Instrumentenhöhe; ± ist eine Standardabweichung.</translation>
    </message>
    <message>
      <source>Caution. {sentence}</source>
      <translation>Vorsicht. {sentence}</translation>
    </message>
    <message>
      <source>Error band (95 %)</source>
      <translation>Fehlerband (95 %)</translation>
    </message>
    <message>
      <source>Survey notes</source>
      <translation>Vermerke zur Vermessung</translation>
    </message>
    <message>
      <source>Known points</source>
      <translation>Bekannte Punkte</translation>
    </message>
    <message>
      <source>Changes of the building layer</source>
      <translation>Änderungen des Gebäudelayers</translation>
    </message>
    <message>
      <source>Findings on the building layer</source>
      <translation>Befunde zum Gebäudelayer</translation>
    </message>
  </context>
</TS>
