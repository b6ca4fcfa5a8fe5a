<?xml version="1.0" encoding="utf-8"?>
<!DOCTYPE TS>
<TS version="2.1" language="it" sourcelanguage="en">
  <context>
    <name>Roomtie</name>
    <message>
      <source>Pages</source>
      <translation>Pagine</translation>
    </message>
    <message>
      <source>Close</source>
      <translation>Chiudi</translation>
    </message>
    <message>
      <source>Back</source>
      <translation>Indietro</translation>
    </message>
    <message>
      <source>Forward</source>
      <translation>Avanti</translation>
    </message>
    <message>
      <source>Roomtie help: {page}</source>
      <translation>Guida di Roomtie: {page}</translation>
    </message>
    <message>
      <source>Plan from captures…</source>
      <translation>Pianta dai rilievi…</translation>
    </message>
    <message>
      <source>Import polar captures…</source>
      <translation>Importa rilievi polari…</translation>
    </message>
    <message>
      <source>Captures from point layer…</source>
      <translation>Rilievi da layer di punti…</translation>
    </message>
    <message>
      <source>Adjust stations…</source>
      <translation>Compensa le stazioni…</translation>
    </message>
    <message>
      <source>Extract walls…</source>
      <translation>Estrai le pareti…</translation>
    </message>
    <message>
      <source>Build rooms and openings…</source>
      <translation>Costruisci vani e aperture…</translation>
    </message>
    <message>
      <source>Georeference plan…</source>
      <translation>Georeferenzia la pianta…</translation>
    </message>
    <message>
      <source>Compare with taped distances…</source>
      <translation>Confronta con distanze misurate a nastro…</translation>
    </message>
    <message>
      <source>Compare with building layer…</source>
      <translation>Confronta con il layer dell'edificio…</translation>
    </message>
    <message>
      <source>Update building layer…</source>
      <translation>Aggiorna il layer dell'edificio…</translation>
    </message>
    <message>
      <source>Plan sheet…</source>
      <translation>Tavola della pianta…</translation>
    </message>
    <message>
      <source>Export drawing…</source>
      <translation>Esporta disegno…</translation>
    </message>
    <message>
      <source>Export indoor map…</source>
      <translation>Esporta mappa degli interni…</translation>
    </message>
    <message>
      <source>Roomtie</source>
      <translation>Roomtie</translation>
    </message>
    <message>
      <source>Describe a text file…</source>
      <translation>Descrivi un file di testo…</translation>
    </message>
    <message>
      <source>Plan from the example survey…</source>
      <translation>Pianta dal rilievo di esempio…</translation>
    </message>
    <message>
      <source>Help</source>
      <translation>Guida</translation>
    </message>
    <message>
      <source>Review the stations of a plan, choose, and readjust</source>
      <translation>Controlla le stazioni di una pianta, scegli e ricompensa</translation>
    </message>
    <message>
      <source>Sight distances</source>
      <translation>Rileva distanze</translation>
    </message>
    <message>
      <source>Click two walls, corners or targets: how far apart they are</source>
      <translation>Fai clic su due pareti, spigoli o mire: quanto distano</translation>
    </message>
    <message>
      <source>Plot scales</source>
      <translation>Scale di stampa</translation>
    </message>
    <message>
      <source>the project's, else the UTM zone of the geotags</source>
      <translation>quello del progetto, altrimenti la zona UTM dei geotag</translation>
    </message>
    <message>
      <source>Target CRS</source>
      <translation>SR di destinazione</translation>
    </message>
    <message>
      <source>These fill Roomtie's dialogs. Captures that state their own noise keep it.</source>
      <translation>Questi valori riempiono le finestre di Roomtie. I rilievi che dichiarano la propria precisione la mantengono.</translation>
    </message>
    <message>
      <source>Standard error of a distance</source>
      <translation>Scarto quadratico medio di una distanza</translation>
    </message>
    <message>
      <source> mm</source>
      <translation> mm</translation>
    </message>
    <message>
      <source>Standard error of an angle</source>
      <translation>Scarto quadratico medio di un angolo</translation>
    </message>
    <message>
      <source> deg</source>
      <translation> gradi</translation>
    </message>
    <message>
      <source>Plan</source>
      <translation>Pianta</translation>
    </message>
    <message>
      <source>The plans in the project</source>
      <translation>Le piante del progetto</translation>
    </message>
    <message>
      <source>Text files (*.txt *.csv *.dat *.asc *.xyz);;All files (*)</source>
      <translation>File di testo (*.txt *.csv *.dat *.asc *.xyz);;Tutti i file (*)</translation>
    </message>
    <message>
      <source>Describe a text file</source>
      <translation>Descrivi un file di testo</translation>
    </message>
    <message>
      <source>Text file to describe</source>
      <translation>File di testo da descrivere</translation>
    </message>
    <message>
      <source>Station in the picture</source>
      <translation>Stazione nella figura</translation>
    </message>
    <message>
      <source>&amp;Keep</source>
      <translation>&amp;Conserva</translation>
    </message>
    <message>
      <source>Keep and &amp;import…</source>
      <translation>Conserva e &amp;importa…</translation>
    </message>
    <message>
      <source>Keep a profile</source>
      <translation>Conserva un profilo</translation>
    </message>
    <message>
      <source>Te&amp;xt file</source>
      <translation>File di te&amp;sto</translation>
    </message>
    <message>
      <source>N&amp;ame of the profile</source>
      <translation>N&amp;ome del profilo</translation>
    </message>
    <message>
      <source>Say which way the angles run.</source>
      <translation>Indica in che verso crescono gli angoli.</translation>
    </message>
    <message>
      <source>There is a profile {name} already. Replace it?</source>
      <translation>Esiste già un profilo {name}. Sostituirlo?</translation>
    </message>
    <message>
      <source>Kept. The next file that looks the same will be read so.</source>
      <translation>Conservato. Il prossimo file dello stesso aspetto sarà letto così.</translation>
    </message>
    <message>
      <source>This file looks like those of the profile {name}.</source>
      <translation>Questo file somiglia a quelli del profilo {name}.</translation>
    </message>
    <message>
      <source>No table of numbers is found in this file: say how its lines are split.</source>
      <translation>In questo file non si trova una tabella di numeri: indica come dividere le righe.</translation>
    </message>
    <message>
      <source>This is a first guess. Check what each column holds and the units, and say which way the angles run: compare the picture with the room.</source>
      <translation>Questa è una prima ipotesi. Controlla che cosa contiene ogni colonna e le unità, e indica il verso degli angoli: confronta la figura con il vano.</translation>
    </message>
    <message>
      <source>The file's lines do not split into these columns.</source>
      <translation>Le righe del file non si dividono in queste colonne.</translation>
    </message>
    <message>
      <source>This file is {format}, which says itself what it holds: no profile is needed.</source>
      <translation>Questo file è {format} e dice da sé che cosa contiene: non serve un profilo.</translation>
    </message>
    <message>
      <source>Kept. {others} fits this file too and reads it otherwise: the import will ask which one is meant.</source>
      <translation>Conservato. Anche {others} si adatta a questo file e lo legge in altro modo: l'importazione chiederà quale vale.</translation>
    </message>
    <message>
      <source>comma ,</source>
      <translation>virgola ,</translation>
    </message>
    <message>
      <source>semicolon ;</source>
      <translation>punto e virgola ;</translation>
    </message>
    <message>
      <source>tab</source>
      <translation>tabulazione</translation>
    </message>
    <message>
      <source>blanks or tabs</source>
      <translation>spazi o tabulazioni</translation>
    </message>
    <message>
      <source>point 1.5</source>
      <translation>punto 1.5</translation>
    </message>
    <message>
      <source>comma 1,5</source>
      <translation>virgola 1,5</translation>
    </message>
    <message>
      <source>degrees (360)</source>
      <translation>gradi (360)</translation>
    </message>
    <message>
      <source>gon (400)</source>
      <translation>gon (400)</translation>
    </message>
    <message>
      <source>radians (2π)</source>
      <translation>radianti (2π)</translation>
    </message>
    <message>
      <source>metres</source>
      <translation>metri</translation>
    </message>
    <message>
      <source>centimetres</source>
      <translation>centimetri</translation>
    </message>
    <message>
      <source>millimetres</source>
      <translation>millimetri</translation>
    </message>
    <message>
      <source>feet</source>
      <translation>piedi</translation>
    </message>
    <message>
      <source>inches</source>
      <translation>pollici</translation>
    </message>
    <message>
      <source>choose…</source>
      <translation>scegli…</translation>
    </message>
    <message>
      <source>clockwise</source>
      <translation>orario</translation>
    </message>
    <message>
      <source>counterclockwise</source>
      <translation>antiorario</translation>
    </message>
    <message>
      <source>A row of column &amp;names comes first</source>
      <translation>Prima viene una riga con i &amp;nomi delle colonne</translation>
    </message>
    <message>
      <source>-1; 9999</source>
      <translation>-1; 9999</translation>
    </message>
    <message>
      <source>What the instrument's angle shows in the direction that shall be zero (the one whose compass bearing is taken); it is subtracted.</source>
      <translation>Quanto segna l'angolo dello strumento nella direzione che sarà lo zero (quella di cui si prende l'azimut alla bussola); viene sottratto.</translation>
    </message>
    <message>
      <source>The zero error of the distance, from a calibration; it is subtracted.</source>
      <translation>L'errore di zero della distanza, da una calibrazione; viene sottratto.</translation>
    </message>
    <message>
      <source>What stands in the distance's place where nothing came back, beside a blank and 0; several apart by semicolons.</source>
      <translation>Che cosa sta al posto della distanza quando nulla è tornato, oltre al vuoto e a 0; più valori separati da punto e virgola.</translation>
    </message>
    <message>
      <source>Lines that begin so are passed over.</source>
      <translation>Le righe che iniziano così vengono saltate.</translation>
    </message>
    <message>
      <source>Seen from above, as the angles grow.</source>
      <translation>Visto dall'alto, al crescere degli angoli.</translation>
    </message>
    <message>
      <source>Lines</source>
      <translation>Righe</translation>
    </message>
    <message>
      <source>&amp;Separator</source>
      <translation>&amp;Separatore</translation>
    </message>
    <message>
      <source>&amp;Decimal sign</source>
      <translation>Segno &amp;decimale</translation>
    </message>
    <message>
      <source>Lines to s&amp;kip at the top</source>
      <translation>Righe da sa&amp;ltare in alto</translation>
    </message>
    <message>
      <source>Comment si&amp;gn</source>
      <translation>Segno di co&amp;mmento</translation>
    </message>
    <message>
      <source>&amp;Encoding</source>
      <translation>Codi&amp;fica</translation>
    </message>
    <message>
      <source>Angles</source>
      <translation>Angoli</translation>
    </message>
    <message>
      <source>&amp;Unit</source>
      <translation>&amp;Unità</translation>
    </message>
    <message>
      <source>Angles &amp;run</source>
      <translation>Gli angoli &amp;vanno in senso</translation>
    </message>
    <message>
      <source>&amp;Zero direction at</source>
      <translation>Direzione &amp;zero a</translation>
    </message>
    <message>
      <source>Distances</source>
      <translation>Distanze</translation>
    </message>
    <message>
      <source>Uni&amp;t</source>
      <translation>Uni&amp;tà</translation>
    </message>
    <message>
      <source>Zero err&amp;or</source>
      <translation>E&amp;rrore di zero</translation>
    </message>
    <message>
      <source>Nothing came &amp;back</source>
      <translation>Nulla è to&amp;rnato</translation>
    </message>
    <message>
      <source>Profiles (*.json)</source>
      <translation>Profili (*.json)</translation>
    </message>
    <message>
      <source>Kept profiles</source>
      <translation>Profili conservati</translation>
    </message>
    <message>
      <source>Rename a profile</source>
      <translation>Rinomina un profilo</translation>
    </message>
    <message>
      <source>New name</source>
      <translation>Nuovo nome</translation>
    </message>
    <message>
      <source>Delete a profile</source>
      <translation>Elimina un profilo</translation>
    </message>
    <message>
      <source>Profile from a file</source>
      <translation>Profilo da un file</translation>
    </message>
    <message>
      <source>Profile to a file</source>
      <translation>Profilo in un file</translation>
    </message>
    <message>
      <source>Rena&amp;me…</source>
      <translation>Rino&amp;mina…</translation>
    </message>
    <message>
      <source>De&amp;lete…</source>
      <translation>&amp;Elimina…</translation>
    </message>
    <message>
      <source>From f&amp;ile…</source>
      <translation>&amp;Da file…</translation>
    </message>
    <message>
      <source>To fil&amp;e…</source>
      <translation>&amp;In un file…</translation>
    </message>
    <message>
      <source>{name} was written to {path}.</source>
      <translation>{name} è stato scritto in {path}.</translation>
    </message>
    <message>
      <source>Delete the profile {name}? Its files will be unmarked again.</source>
      <translation>Eliminare il profilo {name}? I suoi file torneranno senza descrizione.</translation>
    </message>
    <message>
      <source>No reading can be read.</source>
      <translation>Nessuna lettura può essere letta.</translation>
    </message>
    <message>
      <source>1 station</source>
      <translation>1 stazione</translation>
    </message>
    <message>
      <source>{n} stations</source>
      <translation>{n} stazioni</translation>
    </message>
    <message>
      <source>{stations}, {readings} readings, {gone} without a return</source>
      <translation>{stations}, {readings} letture, {gone} senza ritorno</translation>
    </message>
    <message>
      <source>The ring turns {way} over {turn:.1f}°</source>
      <translation>L'anello gira {way} per {turn:.1f}°</translation>
    </message>
    <message>
      <source>The lines split into {count} columns; expected at most {most}.</source>
      <translation>Le righe si dividono in {count} colonne; se ne attendono al più {most}.</translation>
    </message>
    <message>
      <source> ({count} more like this)</source>
      <translation> (altri {count} simili)</translation>
    </message>
    <message>
      <source>Distances {low:.2f} m to {high:.2f} m, half below {middle:.2f} m</source>
      <translation>Distanze da {low:.2f} m a {high:.2f} m, metà sotto {middle:.2f} m</translation>
    </message>
    <message>
      <source>not used</source>
      <translation>non usata</translation>
    </message>
    <message>
      <source>angle</source>
      <translation>angolo</translation>
    </message>
    <message>
      <source>distance</source>
      <translation>distanza</translation>
    </message>
    <message>
      <source>zenith angle</source>
      <translation>angolo zenitale</translation>
    </message>
    <message>
      <source>elevation angle</source>
      <translation>angolo di elevazione</translation>
    </message>
    <message>
      <source>intensity</source>
      <translation>intensità</translation>
    </message>
    <message>
      <source>station</source>
      <translation>stazione</translation>
    </message>
    <message>
      <source>kind</source>
      <translation>tipo</translation>
    </message>
    <message>
      <source>target</source>
      <translation>mira</translation>
    </message>
    <message>
      <source>First lines of the file</source>
      <translation>Prime righe del file</translation>
    </message>
    <message>
      <source>holds</source>
      <translation>contiene</translation>
    </message>
    <message>
      <source>Column {number} holds</source>
      <translation>La colonna {number} contiene</translation>
    </message>
    <message>
      <source>the kept one that fits the file</source>
      <translation>quello conservato che si adatta al file</translation>
    </message>
    <message>
      <source>A kept profile, a profile's .json file, or empty.</source>
      <translation>Un profilo conservato, il file .json di un profilo, o vuoto.</translation>
    </message>
    <message>
      <source>Describe…</source>
      <translation>Descrivi…</translation>
    </message>
    <message>
      <source>as recorded</source>
      <translation>come rilevata</translation>
    </message>
    <message>
      <source>held</source>
      <translation>fissa</translation>
    </message>
    <message>
      <source>adjusted</source>
      <translation>compensata</translation>
    </message>
    <message>
      <source>unconnected</source>
      <translation>non collegata</translation>
    </message>
    <message>
      <source>surface</source>
      <translation>superficie</translation>
    </message>
    <message>
      <source>overlap</source>
      <translation>sovrapposizione</translation>
    </message>
    <message>
      <source>compass</source>
      <translation>bussola</translation>
    </message>
    <message>
      <source>geotag</source>
      <translation>geotag</translation>
    </message>
    <message>
      <source>Choice</source>
      <translation>Scelta</translation>
    </message>
    <message>
      <source>Station</source>
      <translation>Stazione</translation>
    </message>
    <message>
      <source>Name of the station</source>
      <translation>Nome della stazione</translation>
    </message>
    <message>
      <source>Status</source>
      <translation>Stato</translation>
    </message>
    <message>
      <source>What the adjustment made of it</source>
      <translation>Che cosa ne ha fatto la compensazione</translation>
    </message>
    <message>
      <source>What you decided: it counts when you readjust</source>
      <translation>Ciò che hai deciso: vale quando ricompensi</translation>
    </message>
    <message>
      <source>Used</source>
      <translation>Usate</translation>
    </message>
    <message>
      <source>Readings used, of all</source>
      <translation>Letture usate, su tutte</translation>
    </message>
    <message>
      <source>Largest mm</source>
      <translation>Max mm</translation>
    </message>
    <message>
      <source>Largest residual of a reading from its wall, in mm</source>
      <translation>Massimo scarto di una lettura dalla sua parete, in mm</translation>
    </message>
    <message>
      <source>Largest w</source>
      <translation>Max w</translation>
    </message>
    <message>
      <source>Largest standardised residual of the ties in use; beyond 3.29 it is suspect</source>
      <translation>Massimo residuo standardizzato dei collegamenti usati; oltre 3,29 è sospetto</translation>
    </message>
    <message>
      <source>σ x mm</source>
      <translation>σ x mm</translation>
    </message>
    <message>
      <source>Standard error in x (1 sigma)</source>
      <translation>Scarto quadratico medio in x (1 sigma)</translation>
    </message>
    <message>
      <source>σ y mm</source>
      <translation>σ y mm</translation>
    </message>
    <message>
      <source>Standard error in y (1 sigma)</source>
      <translation>Scarto quadratico medio in y (1 sigma)</translation>
    </message>
    <message>
      <source>σ dir °</source>
      <translation>σ dir °</translation>
    </message>
    <message>
      <source>Standard error of the orientation (1 sigma)</source>
      <translation>Scarto quadratico medio dell'orientamento (1 sigma)</translation>
    </message>
    <message>
      <source>Flags</source>
      <translation>Contrassegni</translation>
    </message>
    <message>
      <source>Readings that are not used, by what speaks against them</source>
      <translation>Letture non usate, secondo ciò che parla contro di esse</translation>
    </message>
    <message>
      <source>Proposal</source>
      <translation>Proposta</translation>
    </message>
    <message>
      <source>What the adjustment proposes, and why</source>
      <translation>Che cosa propone la compensazione, e perché</translation>
    </message>
    <message>
      <source>Level</source>
      <translation>Piano</translation>
    </message>
    <message>
      <source>Storey, 0 = ground</source>
      <translation>Piano, 0 = piano terra</translation>
    </message>
    <message>
      <source>used</source>
      <translation>usato</translation>
    </message>
    <message>
      <source>Tie</source>
      <translation>Collegamento</translation>
    </message>
    <message>
      <source>Kind, and to what</source>
      <translation>Tipo, e con che cosa</translation>
    </message>
    <message>
      <source>Whether the adjustment used it</source>
      <translation>Se la compensazione l'ha usato</translation>
    </message>
    <message>
      <source>Off mm</source>
      <translation>Scarto mm</translation>
    </message>
    <message>
      <source>Residual of the position</source>
      <translation>Residuo della posizione</translation>
    </message>
    <message>
      <source>Off °</source>
      <translation>Scarto °</translation>
    </message>
    <message>
      <source>Residual of the direction</source>
      <translation>Residuo della direzione</translation>
    </message>
    <message>
      <source>Standardised residual; beyond 3.29 it is suspect</source>
      <translation>Residuo standardizzato; oltre 3,29 è sospetto</translation>
    </message>
    <message>
      <source>σ ×</source>
      <translation>σ ×</translation>
    </message>
    <message>
      <source>Factor on the tie's standard errors; empty for 1</source>
      <translation>Fattore sugli scarti del collegamento; vuoto per 1</translation>
    </message>
    <message>
      <source>What it says</source>
      <translation>Che cosa dice</translation>
    </message>
    <message>
      <source>Why it is not used, or what to look at</source>
      <translation>Perché non è usato, o che cosa guardare</translation>
    </message>
    <message>
      <source>Name</source>
      <translation>Nome</translation>
    </message>
    <message>
      <source>Name of the room; change it with F2</source>
      <translation>Nome del vano; si cambia con F2</translation>
    </message>
    <message>
      <source>m²</source>
      <translation>m²</translation>
    </message>
    <message>
      <source>Area</source>
      <translation>Superficie</translation>
    </message>
    <message>
      <source>σ m²</source>
      <translation>σ m²</translation>
    </message>
    <message>
      <source>Standard error of the area (1 sigma)</source>
      <translation>Scarto quadratico medio della superficie (1 sigma)</translation>
    </message>
    <message>
      <source>Seen</source>
      <translation>Visto</translation>
    </message>
    <message>
      <source>Share of the boundary that readings back</source>
      <translation>Parte del contorno sostenuta da letture</translation>
    </message>
    <message>
      <source>Stations</source>
      <translation>Stazioni</translation>
    </message>
    <message>
      <source>Stations that stand in the room</source>
      <translation>Stazioni nel vano</translation>
    </message>
    <message>
      <source>as found</source>
      <translation>come trovato</translation>
    </message>
    <message>
      <source>hold</source>
      <translation>tieni fissa</translation>
    </message>
    <message>
      <source>leave out</source>
      <translation>tralascia</translation>
    </message>
    <message>
      <source>yes</source>
      <translation>sì</translation>
    </message>
    <message>
      <source>no</source>
      <translation>no</translation>
    </message>
    <message>
      <source>Review of stations</source>
      <translation>Controllo delle stazioni</translation>
    </message>
    <message>
      <source>The project has no plan: make one with Plan from captures.</source>
      <translation>Il progetto non ha una pianta: creane una con Pianta da rilievi.</translation>
    </message>
    <message>
      <source>Nothing is selected in the table.</source>
      <translation>Nella tabella non è selezionato nulla.</translation>
    </message>
    <message>
      <source>Undo {step}</source>
      <translation>Annulla: {step}</translation>
    </message>
    <message>
      <source>Redo {step}</source>
      <translation>Ripristina: {step}</translation>
    </message>
    <message>
      <source>choice for {thing}</source>
      <translation>scelta per {thing}</translation>
    </message>
    <message>
      <source>weight of {thing}</source>
      <translation>peso di {thing}</translation>
    </message>
    <message>
      <source>name of {thing}</source>
      <translation>nome di {thing}</translation>
    </message>
    <message>
      <source>the host gave no reason</source>
      <translation>il programma non ha dato un motivo</translation>
    </message>
    <message>
      <source>{key} is not in the layer {layer} any more.</source>
      <translation>{key} non è più nel layer {layer}.</translation>
    </message>
    <message>
      <source>Layer {layer}: the change could not be written: {reason}.</source>
      <translation>Layer {layer}: non è stato possibile scrivere la modifica: {reason}.</translation>
    </message>
    <message>
      <source>Layer {layer} has no field {field} yet, and is being edited; expected it saved first.</source>
      <translation>Il layer {layer} non ha ancora il campo {field} ed è in modifica; va prima salvato.</translation>
    </message>
    <message>
      <source>Layer {layer}: the field {field} could not be added: {reason}.</source>
      <translation>Layer {layer}: non è stato possibile aggiungere il campo {field}: {reason}.</translation>
    </message>
    <message>
      <source>The factor on the standard errors is {value}; expected a number from 0.01 to 1000, or nothing.</source>
      <translation>Il fattore sugli scarti è {value}; si attende un numero da 0,01 a 1000, o nulla.</translation>
    </message>
    <message>
      <source>Plan under review</source>
      <translation>Pianta in esame</translation>
    </message>
    <message>
      <source>Undo</source>
      <translation>Annulla</translation>
    </message>
    <message>
      <source>Redo</source>
      <translation>Ripristina</translation>
    </message>
    <message>
      <source>Zoom to the selected stations</source>
      <translation>Zoom sulle stazioni selezionate</translation>
    </message>
    <message>
      <source>Filter stations</source>
      <translation>Filtra le stazioni</translation>
    </message>
    <message>
      <source>Ties of the station</source>
      <translation>Collegamenti della stazione</translation>
    </message>
    <message>
      <source>Rooms</source>
      <translation>Vani</translation>
    </message>
    <message>
      <source>Colour by residual</source>
      <translation>Colora per scarto</translation>
    </message>
    <message>
      <source>Colour by flag</source>
      <translation>Colora per contrassegno</translation>
    </message>
    <message>
      <source>What the ring is coloured by</source>
      <translation>Secondo che cosa è colorato l'anello</translation>
    </message>
    <message>
      <source>&amp;Readjust</source>
      <translation>&amp;Ricompensa</translation>
    </message>
    <message>
      <source>Adjust again with what you chose, and draw the plan anew, in the background</source>
      <translation>Compensa di nuovo con le tue scelte e ridisegna la pianta, in sottofondo</translation>
    </message>
    <message>
      <source>Cancel</source>
      <translation>Annulla operazione</translation>
    </message>
    <message>
      <source>Progress of the readjustment</source>
      <translation>Avanzamento della ricompensazione</translation>
    </message>
    <message>
      <source>For what is selected in the table; it counts when you readjust</source>
      <translation>Per ciò che è selezionato nella tabella; vale quando ricompensi</translation>
    </message>
    <message>
      <source>As found</source>
      <translation>Come trovato</translation>
    </message>
    <message>
      <source>Hold</source>
      <translation>Tieni fissa</translation>
    </message>
    <message>
      <source>Leave out</source>
      <translation>Tralascia</translation>
    </message>
    <message>
      <source>Ring</source>
      <translation>Anello</translation>
    </message>
    <message>
      <source>Ties</source>
      <translation>Collegamenti</translation>
    </message>
    <message>
      <source>{layer} (single steps)</source>
      <translation>{layer} (passi singoli)</translation>
    </message>
    <message>
      <source>The host gave no reason.</source>
      <translation>Il programma non ha dato un motivo.</translation>
    </message>
    <message>
      <source>Readjust</source>
      <translation>Ricompensa</translation>
    </message>
    <message>
      <source>The host does not know {name}.</source>
      <translation>Il programma non conosce {name}.</translation>
    </message>
    <message>
      <source>{path}: the plan was changed while it was readjusted, and is kept as it is; save the edits and readjust again.</source>
      <translation>{path}: la pianta è stata modificata durante la ricompensazione e resta com’è; salva le modifiche e ricompensa di nuovo.</translation>
    </message>
    <message>
      <source>on no wall</source>
      <translation>su nessuna parete</translation>
    </message>
    <message>
      <source>up to 2 mm</source>
      <translation>fino a 2 mm</translation>
    </message>
    <message>
      <source>2 to 5 mm</source>
      <translation>da 2 a 5 mm</translation>
    </message>
    <message>
      <source>5 to 10 mm</source>
      <translation>da 5 a 10 mm</translation>
    </message>
    <message>
      <source>beyond 10 mm</source>
      <translation>oltre 10 mm</translation>
    </message>
    <message>
      <source>Flags and residuals of the stations</source>
      <translation>Contrassegni e scarti delle stazioni</translation>
    </message>
    <message>
      <source>Station {station}: {ties}, {unused}.</source>
      <translation>Stazione {station}: {ties}, {unused}.</translation>
    </message>
    <message numerus="yes">
      <source>%n tie(s)</source>
      <translation>
        <numerusform>%n collegamento</numerusform>
        <numerusform>%n collegamenti</numerusform>
      </translation>
    </message>
    <message numerus="yes">
      <source>%n of them not used</source>
      <translation>
        <numerusform>%n non usato</numerusform>
        <numerusform>%n non usati</numerusform>
      </translation>
    </message>
    <message>
      <source>Choose a station in the table or in the map.</source>
      <translation>Scegli una stazione nella tabella o nella mappa.</translation>
    </message>
    <message>
      <source>Ring of {station}</source>
      <translation>Anello di {station}</translation>
    </message>
    <message>
      <source>Proposal: {proposal}</source>
      <translation>Proposta: {proposal}</translation>
    </message>
    <message>
      <source>{path}: the plan could not be read ({reason}).</source>
      <translation>{path}: non è stato possibile leggere la pianta ({reason}).</translation>
    </message>
    <message>
      <source>Readjusted. Undo brings the earlier plan back.</source>
      <translation>Ricompensata. Annulla riporta la pianta precedente.</translation>
    </message>
    <message>
      <source>That state of the plan is not kept any more.</source>
      <translation>Quello stato della pianta non è più conservato.</translation>
    </message>
    <message>
      <source>Readjust {plan}</source>
      <translation>Ricompensa {plan}</translation>
    </message>
    <message>
      <source>Another state of {plan}</source>
      <translation>Altro stato di {plan}</translation>
    </message>
    <message>
      <source>Cancelled; the plan is as it was.</source>
      <translation>Annullato; la pianta è com'era.</translation>
    </message>
    <message>
      <source>Layer {layer} has edits that are not saved; save or cancel them first.</source>
      <translation>Il layer {layer} ha modifiche non salvate; prima salvale o annullale.</translation>
    </message>
    <message>
      <source>Picture of the ring</source>
      <translation>Figura dell'anello</translation>
    </message>
    <message>
      <source>zero direction up</source>
      <translation>direzione zero in alto</translation>
    </message>
    <message>
      <source>nothing to draw yet</source>
      <translation>ancora nulla da disegnare</translation>
    </message>
    <message>
      <source>{count} readings drawn, {way}</source>
      <translation>{count} letture disegnate, {way}</translation>
    </message>
    <message>
      <source>Taped distances</source>
      <translation>Distanze a nastro</translation>
    </message>
    <message>
      <source>Reading the plan…</source>
      <translation>Lettura della pianta…</translation>
    </message>
    <message>
      <source>Under the cursor: {thing}</source>
      <translation>Sotto il cursore: {thing}</translation>
    </message>
    <message>
      <source>Read {plan}</source>
      <translation>Leggi {plan}</translation>
    </message>
    <message>
      <source>{length} m, standard error {sigma} mm (1 sigma)</source>
      <translation>{length} m, scarto quadratico medio {sigma} mm (1 sigma)</translation>
    </message>
    <message>
      <source>The table has no distances yet.</source>
      <translation>La tabella non ha ancora distanze.</translation>
    </message>
    <message>
      <source>{difference} mm (plan less tape), tolerance {tolerance} mm: {verdict}</source>
      <translation>{difference} mm (pianta meno nastro), tolleranza {tolerance} mm: {verdict}</translation>
    </message>
    <message>
      <source>Table of taped distances</source>
      <translation>Tabella delle distanze a nastro</translation>
    </message>
    <message>
      <source>within tolerance</source>
      <translation>entro la tolleranza</translation>
    </message>
    <message>
      <source>plan too long</source>
      <translation>pianta troppo lunga</translation>
    </message>
    <message>
      <source>plan too short</source>
      <translation>pianta troppo corta</translation>
    </message>
    <message>
      <source>Standard error of the taped distance (1 sigma). 2 mm: common practice in a room.</source>
      <translation>Scarto quadratico medio della distanza a nastro (1 sigma). 2 mm: pratica comune in un vano.</translation>
    </message>
    <message>
      <source>&amp;Add to the table</source>
      <translation>&amp;Aggiungi alla tabella</translation>
    </message>
    <message>
      <source>Remove</source>
      <translation>Rimuovi</translation>
    </message>
    <message>
      <source>Take the selected distances out of the table</source>
      <translation>Togli dalla tabella le distanze selezionate</translation>
    </message>
    <message>
      <source>&amp;Compare…</source>
      <translation>&amp;Confronta…</translation>
    </message>
    <message>
      <source>Compare all of them with the plan, with a report</source>
      <translation>Confrontale tutte con la pianta, con relazione</translation>
    </message>
    <message>
      <source>click in the map, or type: W012, W012/W013, T3</source>
      <translation>clic sulla mappa, o scrivi: W012, W012/W013, T3</translation>
    </message>
    <message>
      <source>&amp;Plan</source>
      <translation>&amp;Pianta</translation>
    </message>
    <message>
      <source>&amp;From</source>
      <translation>&amp;Da</translation>
    </message>
    <message>
      <source>&amp;To</source>
      <translation>&amp;A</translation>
    </message>
    <message>
      <source>On the plan</source>
      <translation>Sulla pianta</translation>
    </message>
    <message>
      <source>Taped</source>
      <translation>A nastro</translation>
    </message>
    <message>
      <source>not on the plan</source>
      <translation>non sulla pianta</translation>
    </message>
    <message>
      <source>From</source>
      <translation>Da</translation>
    </message>
    <message>
      <source>Wall, corner or target</source>
      <translation>Parete, spigolo o mira</translation>
    </message>
    <message>
      <source>To</source>
      <translation>A</translation>
    </message>
    <message>
      <source>Taped m</source>
      <translation>Nastro m</translation>
    </message>
    <message>
      <source>Taped distance</source>
      <translation>Distanza a nastro</translation>
    </message>
    <message>
      <source>Diff. mm</source>
      <translation>Diff. mm</translation>
    </message>
    <message>
      <source>Plan less tape</source>
      <translation>Pianta meno nastro</translation>
    </message>
    <message>
      <source>Verdict</source>
      <translation>Giudizio</translation>
    </message>
    <message>
      <source>Judged by the errors of both (95 %)</source>
      <translation>Giudicato dagli errori di entrambi (95 %)</translation>
    </message>
    <message>
      <source>Plan m</source>
      <translation>Pianta m</translation>
    </message>
    <message>
      <source>Distance on the plan, on the ground</source>
      <translation>Distanza sulla pianta, al suolo</translation>
    </message>
    <message>
      <source>Taped distance in metres</source>
      <translation>Distanza a nastro in metri</translation>
    </message>
    <message>
      <source>Standard error of the taped distance in millimetres</source>
      <translation>Scarto della distanza a nastro in millimetri</translation>
    </message>
    <message>
      <source>The plan has no walls; expected some to take distances between.</source>
      <translation>La pianta non ha pareti; ne servono per prendere distanze.</translation>
    </message>
    <message>
      <source>corner {name}</source>
      <translation>spigolo {name}</translation>
    </message>
    <message>
      <source>The plan has no layer {layer}; expected one that Plan from captures made.</source>
      <translation>La pianta non ha il layer {layer}; se ne attende una creata da rilievi.</translation>
    </message>
    <message>
      <source>{path}: there is no layer {layer}.</source>
      <translation>{path}: non c’è il layer {layer}.</translation>
    </message>
    <message>
      <source>Unchanged</source>
      <translation>Invariato</translation>
    </message>
    <message>
      <source>Reshaped</source>
      <translation>Rimodellato</translation>
    </message>
    <message>
      <source>Moved</source>
      <translation>Spostato</translation>
    </message>
    <message>
      <source>Split</source>
      <translation>Diviso</translation>
    </message>
    <message>
      <source>Merged</source>
      <translation>Unito</translation>
    </message>
    <message>
      <source>New</source>
      <translation>Nuovo</translation>
    </message>
    <message>
      <source>Removed</source>
      <translation>Rimosso</translation>
    </message>
    <message>
      <source>Unresolved</source>
      <translation>Da chiarire</translation>
    </message>
    <message>
      <source>Room</source>
      <translation>Vano</translation>
    </message>
    <message>
      <source>Where the plan's outside may lie (95 %)</source>
      <translation>Dove può trovarsi l'esterno della pianta (95 %)</translation>
    </message>
    <message>
      <source>Within tolerance</source>
      <translation>Entro la tolleranza</translation>
    </message>
    <message>
      <source>Beyond tolerance</source>
      <translation>Fuori tolleranza</translation>
    </message>
    <message>
      <source>Station as recorded</source>
      <translation>Stazione come rilevata</translation>
    </message>
    <message>
      <source>Unconnected station (sketched)</source>
      <translation>Stazione non collegata (schizzo)</translation>
    </message>
    <message>
      <source>Control</source>
      <translation>Punto di appoggio</translation>
    </message>
    <message>
      <source>Tie target</source>
      <translation>Mira di collegamento</translation>
    </message>
    <message>
      <source>Check target</source>
      <translation>Mira di controllo</translation>
    </message>
    <message>
      <source>Tie not used</source>
      <translation>Collegamento non usato</translation>
    </message>
    <message>
      <source>Sighting</source>
      <translation>Collimazione</translation>
    </message>
    <message>
      <source>Overlap tie</source>
      <translation>Collegamento per sovrapposizione</translation>
    </message>
    <message>
      <source>Reading</source>
      <translation>Lettura</translation>
    </message>
    <message>
      <source>Flagged reading</source>
      <translation>Lettura contrassegnata</translation>
    </message>
    <message>
      <source>Wall face</source>
      <translation>Faccia di parete</translation>
    </message>
    <message>
      <source>Face bounding no room</source>
      <translation>Faccia che non delimita vani</translation>
    </message>
    <message>
      <source>Doorway</source>
      <translation>Vano di porta</translation>
    </message>
    <message>
      <source>Window</source>
      <translation>Finestra</translation>
    </message>
    <message>
      <source>Unseen stretch</source>
      <translation>Tratto non visto</translation>
    </message>
    <message>
      <source>Station, 95 % ellipse × {factor} (exaggerated)</source>
      <translation>Stazione, ellisse 95 % × {factor} (ingrandita)</translation>
    </message>
    <message>
      <source>review</source>
      <translation>verifica</translation>
    </message>
    <message>
      <source>plan</source>
      <translation>pianta</translation>
    </message>
    <message>
      <source>site</source>
      <translation>sito</translation>
    </message>
    <message>
      <source>Adjust stations</source>
      <translation>Compensa le stazioni</translation>
    </message>
    <message>
      <source>Ties the stations by sighted targets and by the wall faces that captures share, and adjusts each connected network in one weighted least-squares adjustment. Every station gets its standard errors; every tie its residual and standardised residual; a tie that does not agree is rejected and listed with the reason.

Stations without a tie are sketched apart by compass and geotag, and said so. They are never joined by guesswork.

A result can be the input again: what the field choice says of a station (hold, leave out) and, in the earlier ties, of a tie (leave out, a factor on its standard error) counts, and stations that were tied are not searched again.</source>
      <translation>Collega le stazioni per mezzo delle mire collimate e delle facce di parete che i rilievi vedono in comune, e compensa ogni rete connessa con un'unica compensazione pesata ai minimi quadrati. Ogni stazione riceve i suoi scarti quadratici medi, ogni collegamento il suo residuo e il residuo standardizzato; un collegamento che non concorda viene respinto ed elencato con il motivo.

Le stazioni senza collegamento sono abbozzate a parte secondo bussola e geotag, e lo si dice. Non vengono mai unite a caso.

Un risultato può tornare a essere l'ingresso: vale ciò che il campo choice dice di una stazione (hold, leave out) e, nei collegamenti precedenti, di un collegamento (leave out, un fattore sullo scarto), e le stazioni già collegate non si cercano di nuovo.</translation>
    </message>
    <message>
      <source>Reference variance</source>
      <translation>Varianza dell'unità di peso</translation>
    </message>
    <message>
      <source>Degrees of freedom</source>
      <translation>Gradi di libertà</translation>
    </message>
    <message>
      <source>Largest standardised residual</source>
      <translation>Massimo residuo standardizzato</translation>
    </message>
    <message>
      <source>Unconnected stations</source>
      <translation>Stazioni non collegate</translation>
    </message>
    <message>
      <source>Rejected ties</source>
      <translation>Collegamenti respinti</translation>
    </message>
    <message>
      <source>Held station (empty: free network)</source>
      <translation>Stazione tenuta fissa (vuoto: rete libera)</translation>
    </message>
    <message>
      <source>Standard error of a distance (mm)</source>
      <translation>Scarto quadratico medio di una distanza (mm)</translation>
    </message>
    <message>
      <source>Standard error of an angle (deg)</source>
      <translation>Scarto quadratico medio di un angolo (gradi)</translation>
    </message>
    <message>
      <source>Use sighted targets</source>
      <translation>Usa le mire collimate</translation>
    </message>
    <message>
      <source>Use overlapping wall faces</source>
      <translation>Usa le facce di parete sovrapposte</translation>
    </message>
    <message>
      <source>Use compass bearings</source>
      <translation>Usa gli azimut della bussola</translation>
    </message>
    <message>
      <source>Stations as recorded</source>
      <translation>Stazioni come rilevate</translation>
    </message>
    <message>
      <source>Adjusted stations</source>
      <translation>Stazioni compensate</translation>
    </message>
    <message>
      <source>Adjusted readings</source>
      <translation>Letture compensate</translation>
    </message>
    <message>
      <source>Targets</source>
      <translation>Mire</translation>
    </message>
    <message>
      <source>Network covariance</source>
      <translation>Covarianza della rete</translation>
    </message>
    <message>
      <source>Report</source>
      <translation>Relazione</translation>
    </message>
    <message>
      <source>HTML files (*.html)</source>
      <translation>File HTML (*.html)</translation>
    </message>
    <message>
      <source>Build rooms and openings</source>
      <translation>Costruisci vani e aperture</translation>
    </message>
    <message>
      <source>Finds rooms where the captures saw free space between wall faces, and the openings between them: doorways with their widths, and stretches that nobody saw, which are not drawn as walls. Areas lie inside the faces at the instrument's height, with their standard errors; reveals of doorways and of windows that showed glass are not counted, other recesses of walls as you choose; the report says what was counted. National measuring standards differ: defer to the local one.

Take the readings that Extract walls returns: they say which wall each lies on.</source>
      <translation>Trova i vani dove i rilievi hanno visto spazio libero tra facce di parete, e le aperture tra loro: vani di porta con la larghezza, e tratti che nessuno ha visto, che non si disegnano come pareti. Le superfici stanno all'interno delle facce all'altezza dello strumento, con il loro scarto; non contano gli sguinci delle porte e delle finestre che hanno mostrato vetro, le altre rientranze secondo la scelta; il rapporto dice che cosa è stato contato. Le norme nazionali di misura differiscono: prevale quella locale.

Prendi le letture che dà Estrai le pareti: dicono su quale parete giace ognuna.</translation>
    </message>
    <message>
      <source>Openings</source>
      <translation>Aperture</translation>
    </message>
    <message>
      <source>Wall faces</source>
      <translation>Facce di parete</translation>
    </message>
    <message>
      <source>Field of the room's name</source>
      <translation>Campo del nome del vano</translation>
    </message>
    <message>
      <source>Field of the storey</source>
      <translation>Campo del piano</translation>
    </message>
    <message>
      <source>Field of the area (m²)</source>
      <translation>Campo della superficie (m²)</translation>
    </message>
    <message>
      <source>Field of the outline's standard error (mm)</source>
      <translation>Campo dello scarto del contorno (mm)</translation>
    </message>
    <message>
      <source>Field of the first day of validity</source>
      <translation>Campo del primo giorno di validità</translation>
    </message>
    <message>
      <source>Field of the last day of validity</source>
      <translation>Campo dell'ultimo giorno di validità</translation>
    </message>
    <message>
      <source>Field of the date of survey</source>
      <translation>Campo della data di rilievo</translation>
    </message>
    <message>
      <source>Field of the report's SHA-256</source>
      <translation>Campo dello SHA-256 della relazione</translation>
    </message>
    <message>
      <source>Field of the identifier</source>
      <translation>Campo dell'identificativo</translation>
    </message>
    <message>
      <source>Profile of fields: a kept name, or JSON (fields chosen above come first)</source>
      <translation>Profilo dei campi: un nome conservato, o JSON (prevalgono i campi scelti sopra)</translation>
    </message>
    <message>
      <source>Keep these fields under this name</source>
      <translation>Conserva questi campi con questo nome</translation>
    </message>
    <message>
      <source>Angle unit</source>
      <translation>Unità degli angoli</translation>
    </message>
    <message>
      <source>Distance unit</source>
      <translation>Unità delle distanze</translation>
    </message>
    <message>
      <source>Sense of rotation</source>
      <translation>Verso di rotazione</translation>
    </message>
    <message>
      <source>Profile for unmarked text files (empty: the kept one that fits)</source>
      <translation>Profilo per file di testo senza descrizione (vuoto: quello conservato che si adatta)</translation>
    </message>
    <message>
      <source>Folder of captures, or a capture file</source>
      <translation>Cartella di rilievi, o un file di rilievo</translation>
    </message>
    <message>
      <source>Shortest distance used (m)</source>
      <translation>Minima distanza usata (m)</translation>
    </message>
    <message>
      <source>Longest distance used (m)</source>
      <translation>Massima distanza usata (m)</translation>
    </message>
    <message>
      <source>Skip what cannot be read and list it in the report</source>
      <translation>Salta ciò che non si può leggere ed elencalo nella relazione</translation>
    </message>
    <message>
      <source>Captures from point layer</source>
      <translation>Rilievi da layer di punti</translation>
    </message>
    <message>
      <source>Makes captures from layers that you have already: a point layer, say from a drawing or a table, and the points where the instrument stood. Angles and distances are computed from the coordinates; zenith angles and slope distances too where both layers have heights.

Which station a point belongs to is told by a field; without it the nearest station on the point's level is taken, which does not see walls, and the report counts the doubtful ones.

Feet become metres. Layers in degrees are refused: reproject them first. A layer without a coordinate system needs its unit of length. Stations and readings come out where the layers lie; their zero direction is the layer's +y. The standard error of the station points, where it is known, makes them geotags.</source>
      <translation>Forma rilievi da layer che si hanno già: un layer di punti, per esempio da un disegno o da una tabella, e i punti in cui stava lo strumento. Angoli e distanze si calcolano dalle coordinate; anche angoli zenitali e distanze inclinate, se entrambi i layer hanno quote.

A quale stazione appartiene un punto lo dice un campo; senza di esso si prende la stazione più vicina sul piano del punto, che non conosce le pareti, e la relazione conta i casi dubbi.

I piedi diventano metri. I layer in gradi sono rifiutati: vanno prima riproiettati. Un layer senza sistema di coordinate ha bisogno della sua unità di lunghezza. Stazioni e letture escono dove stanno i layer; la loro direzione zero è +y del layer. Lo scarto delle stazioni, dove è noto, ne fa geotag.</translation>
    </message>
    <message>
      <source>Station: name</source>
      <translation>Stazione: nome</translation>
    </message>
    <message>
      <source>Station: level (0 = ground floor)</source>
      <translation>Stazione: piano (0 = piano terra)</translation>
    </message>
    <message>
      <source>Station: instrument height (m)</source>
      <translation>Stazione: altezza strumentale (m)</translation>
    </message>
    <message>
      <source>Point: its station (empty: the nearest)</source>
      <translation>Punto: la sua stazione (vuoto: la più vicina)</translation>
    </message>
    <message>
      <source>Point: level, where the nearest station is taken</source>
      <translation>Punto: piano, quando si prende la stazione più vicina</translation>
    </message>
    <message>
      <source>Point: name of the target</source>
      <translation>Punto: nome della mira</translation>
    </message>
    <message>
      <source>Point: kind (ring, target, surface)</source>
      <translation>Punto: tipo (ring, target, surface)</translation>
    </message>
    <message>
      <source>Point: order of the readings (empty: by angle)</source>
      <translation>Punto: ordine delle letture (vuoto: per angolo)</translation>
    </message>
    <message>
      <source>Readings</source>
      <translation>Letture</translation>
    </message>
    <message>
      <source>Points that were measured</source>
      <translation>Punti misurati</translation>
    </message>
    <message>
      <source>Points where the instrument stood</source>
      <translation>Punti in cui stava lo strumento</translation>
    </message>
    <message>
      <source>Unit of the coordinates</source>
      <translation>Unità delle coordinate</translation>
    </message>
    <message>
      <source>Scale factor of the layers (length in the layer over length on the ground)</source>
      <translation>Fattore di scala dei layer (lunghezza nel layer su lunghezza al suolo)</translation>
    </message>
    <message>
      <source>Standard error of the station points (m; empty: they give no geotag)</source>
      <translation>Scarto quadratico medio dei punti di stazione (m; vuoto: nessun geotag)</translation>
    </message>
    <message>
      <source>Earlier ties, with what was decided about them</source>
      <translation>Collegamenti precedenti, con ciò che si è deciso</translation>
    </message>
    <message>
      <source>Earlier network covariance, for stations that are held</source>
      <translation>Covarianza precedente della rete, per le stazioni tenute fisse</translation>
    </message>
    <message>
      <source>Start</source>
      <translation>Partenza</translation>
    </message>
    <message>
      <source>Search all overlaps anew</source>
      <translation>Cerca di nuovo tutte le sovrapposizioni</translation>
    </message>
    <message>
      <source>From adjusted stations; search those that are not tied</source>
      <translation>Dalle stazioni compensate; cerca quelle non collegate</translation>
    </message>
    <message>
      <source>From adjusted stations; search nothing</source>
      <translation>Dalle stazioni compensate; non cercare nulla</translation>
    </message>
    <message>
      <source>Starts from the poses of {0} of {1} stations.</source>
      <translation>Parte dalla posizione di {0} stazioni su {1}.</translation>
    </message>
    <message>
      <source>Compare with building layer</source>
      <translation>Confronta con il layer dell'edificio</translation>
    </message>
    <message>
      <source>Matches new rooms with a maintained layer of rooms and says what became of each: unchanged, reshaped, moved, split, merged, new, removed, or unresolved (for a person). A shift of the whole layer is found first and told as one. Each judgement takes the standard errors of both into account.

The layer may be any polygon layer in any coordinate system, with any names of fields; nothing in it is changed. The changes are the input of Update building layer. The report has a map, the areas before and now, and what is wrong in the maintained layer, each with a fix proposed.

Without 'every room was surveyed', an old room of which nothing was seen is left to a person: it may be gone, or nobody went in.</source>
      <translation>Abbina i nuovi vani a un layer di vani mantenuto e dice che ne è stato di ciascuno: invariato, rimodellato, spostato, diviso, unito, nuovo, rimosso, o da chiarire (a una persona). Uno spostamento dell'intero layer si trova per primo e si dice una volta sola. Ogni giudizio tiene conto degli scarti di entrambi.

Il layer può essere qualunque layer poligonale in qualunque sistema di coordinate, con qualunque nome dei campi; nulla vi viene cambiato. I cambiamenti sono l'ingresso di Aggiorna il layer dell'edificio. La relazione ha una mappa, le superfici prima e ora, e ciò che non va nel layer mantenuto, ogni volta con una proposta.

Senza «ogni vano è stato rilevato», un vecchio vano di cui non si è visto nulla resta a una persona: può non esserci più, o nessuno vi è entrato.</translation>
    </message>
    <message>
      <source>Changes</source>
      <translation>Cambiamenti</translation>
    </message>
    <message>
      <source>Findings on the layer</source>
      <translation>Riscontri sul layer</translation>
    </message>
    <message>
      <source>Building layer compared</source>
      <translation>Layer dell'edificio confrontato</translation>
    </message>
    <message>
      <source>New rooms</source>
      <translation>Nuovi vani</translation>
    </message>
    <message>
      <source>Maintained rooms</source>
      <translation>Vani mantenuti</translation>
    </message>
    <message>
      <source>Outline of what was surveyed</source>
      <translation>Contorno di ciò che è stato rilevato</translation>
    </message>
    <message>
      <source>Standard error of a maintained outline (mm)</source>
      <translation>Scarto di un contorno mantenuto (mm)</translation>
    </message>
    <message>
      <source>Standard error of a new outline that gives none (mm)</source>
      <translation>Scarto di un nuovo contorno che non lo dà (mm)</translation>
    </message>
    <message>
      <source>Confidence of the judgements (%)</source>
      <translation>Confidenza dei giudizi (%)</translation>
    </message>
    <message>
      <source>Storey (empty: all)</source>
      <translation>Piano (vuoto: tutti)</translation>
    </message>
    <message>
      <source>Every room was surveyed: what is not there is gone</source>
      <translation>Ogni vano è stato rilevato: ciò che manca non c'è più</translation>
    </message>
    <message>
      <source>Bring new outlines to where the layer lies, if it is shifted</source>
      <translation>Porta i nuovi contorni dove sta il layer, se è spostato</translation>
    </message>
    <message>
      <source>Rooms changed</source>
      <translation>Vani cambiati</translation>
    </message>
    <message>
      <source>Rooms unresolved</source>
      <translation>Vani da chiarire</translation>
    </message>
    <message>
      <source>Number of findings</source>
      <translation>Numero di riscontri</translation>
    </message>
    <message>
      <source>Compare with taped distances</source>
      <translation>Confronta con distanze misurate a nastro</translation>
    </message>
    <message>
      <source>Holds taped distances against the plan. The table has a row for each: from_ref and to_ref name what was taped (a wall such as W012, a corner as its two walls W012/W013, or a target), taped_m the length, sigma_taped_mm its standard error if it has one.

Between two walls the distance is square to them from the middle of what they face each other; from a corner or target to a wall square to the wall; between points straight. Each difference is judged by the errors of both (95 %). The accuracy asked for is decided from all distances together; none of them takes part in the adjustment.

The layers may lie in plan coordinates or on the site: distances are those on the ground.</source>
      <translation>Mette le distanze misurate a nastro a confronto con la pianta. La tabella ha una riga per ciascuna: from_ref e to_ref dicono che cosa è stato misurato (una parete come W012, uno spigolo come le sue due pareti W012/W013, o una mira), taped_m la lunghezza, sigma_taped_mm il suo scarto se c'è.

Tra due pareti la distanza è perpendicolare a esse, dal mezzo di ciò che si affacciano; da uno spigolo o una mira a una parete è perpendicolare alla parete; tra punti è diritta. Ogni differenza si giudica con gli scarti di entrambi (95 %). Se la precisione richiesta è raggiunta lo decidono tutte le distanze insieme; nessuna entra nella compensazione.

I layer possono stare in coordinate della pianta o sul sito: le distanze sono quelle al suolo.</translation>
    </message>
    <message>
      <source>Taped distances compared</source>
      <translation>Distanze a nastro confrontate</translation>
    </message>
    <message>
      <source>Plot scale of the walls (empty: the finest there is)</source>
      <translation>Scala di stampa delle pareti (vuoto: la maggiore che c'è)</translation>
    </message>
    <message>
      <source>Standard error of a taped distance where the table gives none (mm)</source>
      <translation>Scarto di una distanza a nastro dove la tabella non lo dà (mm)</translation>
    </message>
    <message>
      <source>Accuracy asked for: standard error of a distance (mm)</source>
      <translation>Precisione richiesta: scarto di una distanza (mm)</translation>
    </message>
    <message>
      <source>Distances compared</source>
      <translation>Distanze confrontate</translation>
    </message>
    <message>
      <source>Distances beyond tolerance</source>
      <translation>Distanze fuori tolleranza</translation>
    </message>
    <message>
      <source>Root mean square of the differences (mm)</source>
      <translation>Media quadratica delle differenze (mm)</translation>
    </message>
    <message>
      <source>Turn walls to the building's axes</source>
      <translation>Ruota le pareti sugli assi dell'edificio</translation>
    </message>
    <message>
      <source>Standard errors within which the readings cannot tell a wall from an axis (2.576: 99 %)</source>
      <translation>Scarti entro cui le letture non distinguono una parete da un asse (2,576: 99 %)</translation>
    </message>
    <message>
      <source>Count recesses of walls (niches, closed doors in their reveals) to room areas</source>
      <translation>Conta nella superficie le rientranze (nicchie, porte chiuse nel loro sguincio)</translation>
    </message>
    <message>
      <source>Earlier plan that the captures join</source>
      <translation>Pianta precedente a cui si uniscono i rilievi</translation>
    </message>
    <message>
      <source>Stations of the earlier plan</source>
      <translation>Stazioni della pianta precedente</translation>
    </message>
    <message>
      <source>A capture with the name of an earlier one</source>
      <translation>Un rilievo con il nome di uno precedente</translation>
    </message>
    <message>
      <source>Place of the earlier plan</source>
      <translation>Posizione della pianta precedente</translation>
    </message>
    <message>
      <source>GeoPackage files (*.gpkg)</source>
      <translation>File GeoPackage (*.gpkg)</translation>
    </message>
    <message>
      <source>Export drawing</source>
      <translation>Esporta disegno</translation>
    </message>
    <message>
      <source>Writes a plan as a DXF drawing for CAD: walls at the chosen plot scales, openings, rooms as closed polylines with name and area, survey control, stations, survey notes with date and accuracy, and the readings if you want them. The header states the unit. Layers are named after ISO 13567: who, what, how shown, storey, scale.

Plot scales and storeys lie over each other, each on its own layers: the finest scale of the ground floor is switched on, the others off.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor.</source>
      <translation>Scrive una pianta come disegno DXF per CAD: pareti alle scale di stampa scelte, aperture, vani come polilinee chiuse con nome e superficie, punti di appoggio, stazioni, note di rilievo con data e precisione, e le letture se richieste. L'intestazione dichiara l'unità. I layer hanno nomi secondo ISO 13567: chi, che cosa, come mostrato, piano, scala.

Scale e piani stanno uno sull'altro, ciascuno sui propri layer: la scala maggiore del piano terra è accesa, le altre spente.

Una pianta non è un documento strutturale né di confine: prevalgono le norme locali e un topografo abilitato.</translation>
    </message>
    <message>
      <source>Coordinates</source>
      <translation>Coordinate</translation>
    </message>
    <message>
      <source>With readings</source>
      <translation>Con le letture</translation>
    </message>
    <message>
      <source>Drawing</source>
      <translation>Disegno</translation>
    </message>
    <message>
      <source>DXF files (*.dxf)</source>
      <translation>File DXF (*.dxf)</translation>
    </message>
    <message>
      <source>Export indoor map</source>
      <translation>Esporta mappa degli interni</translation>
    </message>
    <message>
      <source>Writes rooms and doorways of a plan as an archive of the Indoor Mapping Data Format 1.0.0 (OGC community standard 20-094): venue, address, building, footprints, storeys, units and openings in WGS 84, and which rooms a doorway joins. The plan must be georeferenced.

What only a person knows (category of the venue, address, names of storeys, use of rooms) can be given here; what is not gets a stand-in that the standard allows, and the report lists each.

Windows and stretches that nobody saw are left out: an opening of the standard is an entrance. The same plan gives the same bytes.

A plan is not a structural or boundary document, and this is no plan of escape routes: defer to local codes and a licensed surveyor.</source>
      <translation>Scrive vani e porte di una pianta come archivio dell'Indoor Mapping Data Format 1.0.0 (standard di comunità OGC 20-094): sede, indirizzo, edificio, impronte, piani, unità e aperture in WGS 84, e quali vani unisce una porta. La pianta deve essere georeferenziata.

Ciò che solo una persona sa (categoria della sede, indirizzo, nomi dei piani, uso dei vani) si può dare qui; per il resto sta un segnaposto ammesso dallo standard, e la relazione li elenca tutti.

Finestre e tratti non visti restano fuori: un'apertura dello standard è un ingresso. La stessa pianta dà gli stessi byte.

Una pianta non è un documento strutturale né di confine, e questa non è una pianta delle vie di esodo: prevalgono le norme locali e un topografo abilitato.</translation>
    </message>
    <message>
      <source>Plot scale (empty: the finest of the plan)</source>
      <translation>Scala di stampa (vuoto: la maggiore della pianta)</translation>
    </message>
    <message>
      <source>Thickness of the outer walls (m)</source>
      <translation>Spessore dei muri esterni (m)</translation>
    </message>
    <message>
      <source>Date and time of the archive (empty: when the plan was written)</source>
      <translation>Data e ora dell'archivio (vuoto: quando fu scritta la pianta)</translation>
    </message>
    <message>
      <source>Indoor map</source>
      <translation>Mappa degli interni</translation>
    </message>
    <message>
      <source>IMDF archives (*.zip)</source>
      <translation>Archivi IMDF (*.zip)</translation>
    </message>
    <message>
      <source>Units</source>
      <translation>Unità</translation>
    </message>
    <message>
      <source>Choices left to a person</source>
      <translation>Scelte lasciate a una persona</translation>
    </message>
    <message>
      <source>Indoor map {name}</source>
      <translation>Mappa degli interni {name}</translation>
    </message>
    <message>
      <source>Extract walls</source>
      <translation>Estrai le pareti</translation>
    </message>
    <message>
      <source>Fits straight wall faces to the adjusted readings, each weighted by range, angle and incidence; the faces of one wall seen from several stations become one. Each plot scale gets its own drawing within 0.25 mm on paper. A face is turned to a building axis only where its own standard error cannot tell the difference (or as you choose), and the turn is kept with it; the report lists every face that was turned, and every face that was left out of square with its angle and standard error.

A plan is not a structural or boundary document.</source>
      <translation>Adatta facce di parete rettilinee alle letture compensate, ciascuna pesata secondo distanza, angolo e incidenza; le facce di una parete vista da più stazioni diventano una sola. Ogni scala di stampa ha il proprio disegno entro 0,25 mm sulla carta. Una faccia è ruotata su un asse dell'edificio solo dove il suo scarto non distingue la differenza (o come si sceglie), e la rotazione resta annotata; il rapporto elenca ogni faccia ruotata e ogni faccia lasciata fuori squadra, con angolo e scarto.

Una pianta non è un documento strutturale né di confine.</translation>
    </message>
    <message>
      <source>Readings with their walls</source>
      <translation>Letture con le loro pareti</translation>
    </message>
    <message>
      <source>Walls</source>
      <translation>Pareti</translation>
    </message>
    <message>
      <source>Own tolerance (mm on the building; empty: 0.25 mm at the plot scale)</source>
      <translation>Tolleranza propria (mm sull'edificio; vuoto: 0,25 mm alla scala di stampa)</translation>
    </message>
    <message>
      <source>Building outlines of the site map</source>
      <translation>Contorni degli edifici della mappa del sito</translation>
    </message>
    <message>
      <source>Standard error of an outline's edge (mm)</source>
      <translation>Scarto del lato di un contorno (mm)</translation>
    </message>
    <message>
      <source>Georeference plan</source>
      <translation>Georeferenzia la pianta</translation>
    </message>
    <message>
      <source>Places plan layers on the earth by one weighted fit of east, north and rotation to what there is: geotags, compass bearings corrected for declination and convergence, and control points. Bearings are tested against each other, so that a compass bent by steel is found and left out.

Move coordinates writes the layers in the target CRS, scaled from ground to grid. Site grid keeps the plan's own axes and true distances in a derived CRS that the host reprojects exactly. Layers that were georeferenced before are taken back to plan coordinates by their stations and fitted again, as often as you like. With rooms among the layers, an error band shows where the plan's outside may lie (95 %).

A plan is not a boundary document: defer to a licensed surveyor.</source>
      <translation>Colloca i layer della pianta sulla terra con un unico adattamento pesato di est, nord e rotazione a ciò che c'è: geotag, azimut della bussola corretti per declinazione e convergenza, e punti di appoggio. Gli azimut si verificano tra loro, così che una bussola deviata dall'acciaio viene trovata ed esclusa.

«move coordinates» scrive i layer nel SR di destinazione, ridotti dal suolo alla carta. «site grid» mantiene gli assi della pianta e le distanze vere in un SR derivato che il programma ospite riproietta esattamente. I layer già georeferenziati vengono riportati in coordinate della pianta dalle loro stazioni e adattati di nuovo, quante volte si vuole. Se tra i layer ci sono vani, una fascia di errore mostra dove può stare l'esterno della pianta (95 %).

Una pianta non è un documento di confine: prevale un topografo abilitato.</translation>
    </message>
    <message>
      <source>Declination (deg)</source>
      <translation>Declinazione (gradi)</translation>
    </message>
    <message>
      <source>Convergence (deg)</source>
      <translation>Convergenza (gradi)</translation>
    </message>
    <message>
      <source>Combined scale factor</source>
      <translation>Fattore di scala combinato</translation>
    </message>
    <message>
      <source>Rotation: grid azimuth of plan north (deg)</source>
      <translation>Rotazione: azimut di rete del nord della pianta (gradi)</translation>
    </message>
    <message>
      <source>Standard error of the rotation (deg)</source>
      <translation>Scarto quadratico medio della rotazione (gradi)</translation>
    </message>
    <message>
      <source>Standard error of the east (m)</source>
      <translation>Scarto quadratico medio dell'est (m)</translation>
    </message>
    <message>
      <source>Standard error of the north (m)</source>
      <translation>Scarto quadratico medio del nord (m)</translation>
    </message>
    <message>
      <source>Plan layers</source>
      <translation>Layer della pianta</translation>
    </message>
    <message>
      <source>Targets (needed for control points)</source>
      <translation>Mire (servono per i punti di appoggio)</translation>
    </message>
    <message>
      <source>Georeferenced plan</source>
      <translation>Pianta georeferenziata</translation>
    </message>
    <message>
      <source>Site grid CRS (WKT)</source>
      <translation>SR della griglia locale (WKT)</translation>
    </message>
    <message>
      <source>From Debian 13 on: apt install python3-shapely. On Debian 12, whose GEOS is that of shapely 2.0: {command}</source>
      <translation>Da Debian 13: apt install python3-shapely. Su Debian 12, il cui GEOS è quello di shapely 2.0: {command}</translation>
    </message>
    <message>
      <source>The host's Python lacks {packages}. {how}</source>
      <translation>Al Python del programma ospite manca {packages}. {how}</translation>
    </message>
    <message>
      <source>The host's Python has shapely {found}, expected 2 or newer. {how}</source>
      <translation>Il Python del programma ospite ha shapely {found}, si attende 2 o più recente. {how}</translation>
    </message>
    <message>
      <source>shapely was built with GEOS {own}, the host with {hosts}; both in one process would crash the host. Install a shapely with the host's GEOS: {how}</source>
      <translation>shapely è stato compilato con GEOS {own}, il programma ospite con {hosts}; insieme in un processo lo farebbero cadere. Installa uno shapely con il GEOS del programma ospite: {how}</translation>
    </message>
    <message>
      <source>Install it from the shell of the host's own Python: {command}</source>
      <translation>Installalo dalla console del Python del programma ospite: {command}</translation>
    </message>
    <message>
      <source>The host's Python cannot load {packages}: {why}. {how}</source>
      <translation>Il Python del programma ospite non riesce a caricare {packages}: {why}. {how}</translation>
    </message>
    <message>
      <source>a package</source>
      <translation>un pacchetto</translation>
    </message>
    <message>
      <source>Import polar captures</source>
      <translation>Importa rilievi polari</translation>
    </message>
    <message>
      <source>Reads polar captures (capture text, laser scan JSON or LandXML, told apart by content) from a file or a folder, checks every reading and lays the stations out for inspection: by geotag and compass where the files give them, else side by side.

Text files that do not say what their columns are need a profile: describe them once in the menu Roomtie, Describe a text file.

Nothing is left out silently: a reading that is not used carries a flag that says why. The report shows each station's ring and what should be measured again.

Laser safety: observe the class on the instrument's own label.</source>
      <translation>Legge rilievi polari (testo di rilievo, JSON di scansione laser o LandXML, riconosciuti dal contenuto) da un file o da una cartella, controlla ogni lettura e dispone le stazioni per l'esame: secondo geotag e bussola dove i file li danno, altrimenti affiancate.

I file di testo che non dicono che cosa sono le colonne hanno bisogno di un profilo: si descrivono una volta nel menu Roomtie, Descrivi un file di testo.

Nulla è tralasciato in silenzio: una lettura non usata porta un contrassegno che dice perché. La relazione mostra l'anello di ogni stazione e ciò che va misurato di nuovo.

Sicurezza laser: rispetta la classe indicata sull'etichetta dello strumento.</translation>
    </message>
    <message>
      <source>Name of the venue (empty: that of the plan)</source>
      <translation>Nome della sede (vuoto: quello della pianta)</translation>
    </message>
    <message>
      <source>Name of the building (empty: that of the venue)</source>
      <translation>Nome dell'edificio (vuoto: quello della sede)</translation>
    </message>
    <message>
      <source>Address: street and number</source>
      <translation>Indirizzo: via e numero</translation>
    </message>
    <message>
      <source>Address: suite or unit</source>
      <translation>Indirizzo: interno</translation>
    </message>
    <message>
      <source>Address: postal code</source>
      <translation>Indirizzo: codice postale</translation>
    </message>
    <message>
      <source>Address: locality</source>
      <translation>Indirizzo: località</translation>
    </message>
    <message>
      <source>Address: province (ISO 3166-2, such as IT-BZ)</source>
      <translation>Indirizzo: provincia (ISO 3166-2, come IT-BZ)</translation>
    </message>
    <message>
      <source>Address: country (ISO 3166-1, such as IT)</source>
      <translation>Indirizzo: paese (ISO 3166-1, come IT)</translation>
    </message>
    <message>
      <source>Language of the names (BCP 47)</source>
      <translation>Lingua dei nomi (BCP 47)</translation>
    </message>
    <message>
      <source>Names of the storeys, such as 0=Ground floor|G; 1=First floor|1</source>
      <translation>Nomi dei piani, come 0=Piano terra|PT; 1=Primo piano|1</translation>
    </message>
    <message>
      <source>Field of the rooms that tells their category</source>
      <translation>Campo dei vani che dice la loro categoria</translation>
    </message>
    <message>
      <source>What its words mean, such as WC=restroom; Office=office</source>
      <translation>Che cosa significano le sue parole, come WC=restroom; Ufficio=office</translation>
    </message>
    <message>
      <source>Field of the openings that tells their category</source>
      <translation>Campo delle aperture che dice la loro categoria</translation>
    </message>
    <message>
      <source>Category of rooms of which nothing is known</source>
      <translation>Categoria dei vani di cui non si sa nulla</translation>
    </message>
    <message>
      <source>Category of the venue</source>
      <translation>Categoria della sede</translation>
    </message>
    <message>
      <source>Correct the instrument's systematic errors where the network tells them</source>
      <translation>Correggi gli errori sistematici dello strumento dove la rete li rivela</translation>
    </message>
    <message>
      <source>Calibration captures (one room from several positions)</source>
      <translation>Rilievi di calibrazione (un vano da più posizioni)</translation>
    </message>
    <message>
      <source>Calibration</source>
      <translation>Calibrazione</translation>
    </message>
    <message>
      <source>Level {level}</source>
      <translation>Piano {level}</translation>
    </message>
    <message>
      <source>Plan from captures</source>
      <translation>Pianta dai rilievi</translation>
    </message>
    <message>
      <source>From a folder of captures to a georeferenced plan: imports and checks the captures, ties and adjusts the stations, fits the walls, finds rooms and openings at each plot scale and places the plan by geotags, compass bearings and control points. The result is one GeoPackage with all layers and their styles, a report to read, and beside it the same report as JSON.

A survey without geotag and control stays in plan coordinates and says so.

With an earlier plan its captures go on, and new ones join them: names of rooms, windows and doors marked by hand, choices about stations and ties, fields and styles that were added, and identifiers of walls and rooms stay. Without new captures the plan is adjusted and drawn again. The result may be written over the earlier plan, which is then kept beside it.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor. Laser safety: observe the class on the instrument's own label.</source>
      <translation>Da una cartella di rilievi a una pianta georeferenziata: importa e controlla i rilievi, collega e compensa le stazioni, adatta le pareti, trova vani e aperture a ogni scala di stampa e colloca la pianta con geotag, azimut della bussola e punti di appoggio. Il risultato è un GeoPackage con tutti i layer e i loro stili, una relazione da leggere e accanto la stessa in JSON.

Un rilievo senza geotag e punti di appoggio resta in coordinate della pianta, e lo si dice.

Con una pianta precedente i suoi rilievi continuano e i nuovi vi si uniscono: nomi dei vani, finestre e porte indicate a mano, scelte su stazioni e collegamenti, campi e stili aggiunti e identificativi di pareti e vani restano. Senza nuovi rilievi la pianta viene ricompensata e ridisegnata. Il risultato può essere scritto sopra la pianta precedente, che viene allora conservata accanto.

Una pianta non è un documento strutturale né di confine: prevalgono le norme locali e un topografo abilitato. Sicurezza laser: rispetta la classe indicata sull'etichetta dello strumento.</translation>
    </message>
    <message>
      <source>Plan {name}</source>
      <translation>Pianta {name}</translation>
    </message>
    <message>
      <source>Plan sheet</source>
      <translation>Tavola della pianta</translation>
    </message>
    <message>
      <source>Puts a plan on paper at a true plot scale: PDF, one sheet a storey, with scale bar, plan north and grid north, title block, area schedule, accuracy, datum and cautions. The layout stays in the project, to be edited and exported again.

The scale is that of the ground: where a plan lies in a grid, distances on the sheet are ground distances, the combined scale factor taken out. Print without fitting to the page.

A plan is not a structural or boundary document: defer to local codes and a licensed surveyor.</source>
      <translation>Mette una pianta su carta in vera scala di stampa: PDF, una tavola per piano, con barra di scala, nord della pianta e nord di rete, cartiglio, tabella delle superfici, precisione, riferimento e avvertenze. Il layout resta nel progetto, per modificarlo ed esportarlo di nuovo.

La scala è quella al suolo: dove la pianta sta in una griglia, le distanze sulla tavola sono quelle al suolo, tolto il fattore di scala combinato. Stampa senza adattare alla pagina.

Una pianta non è un documento strutturale né di confine: prevalgono le norme locali e un topografo abilitato.</translation>
    </message>
    <message>
      <source>Plot scale</source>
      <translation>Scala di stampa</translation>
    </message>
    <message>
      <source>Paper</source>
      <translation>Carta</translation>
    </message>
    <message>
      <source>Level (empty: all, one sheet each)</source>
      <translation>Piano (vuoto: tutti, una tavola ciascuno)</translation>
    </message>
    <message>
      <source>Sheets</source>
      <translation>Tavole</translation>
    </message>
    <message>
      <source>PDF files (*.pdf)</source>
      <translation>File PDF (*.pdf)</translation>
    </message>
    <message>
      <source>Sheets {name}</source>
      <translation>Tavole {name}</translation>
    </message>
    <message>
      <source>none</source>
      <translation>nessuno</translation>
    </message>
    <message>
      <source>Area schedule (m²)</source>
      <translation>Tabella delle superfici (m²)</translation>
    </message>
    <message>
      <source>Plan north</source>
      <translation>Nord della pianta</translation>
    </message>
    <message>
      <source>Sum</source>
      <translation>Somma</translation>
    </message>
    <message>
      <source>Grid north</source>
      <translation>Nord di rete</translation>
    </message>
    <message>
      <source>

Target CRS: empty means the project's where it is projected, else the UTM zone of the geotags. Date and height: empty means as in the captures. Control points: a point layer, or a table with east_m and north_m in the target CRS; sigma_mm where known (else 10 mm); empty means the coordinates that LandXML files among the captures give. Building outlines: a polygon layer of the site map; the plan's outside is fitted to the building it lies in.</source>
      <translation>

SR di destinazione: vuoto significa quello del progetto se è proiettato, altrimenti la zona UTM dei geotag. Data e altezza: vuoto significa come nei rilievi. Punti di appoggio: un layer di punti, o una tabella con east_m e north_m nel SR di destinazione; sigma_mm dove è noto (altrimenti 10 mm); vuoto significa le coordinate date dai file LandXML tra i rilievi. Contorni degli edifici: un layer poligonale della mappa del sito; l'esterno della pianta si adatta all'edificio in cui si trova.</translation>
    </message>
    <message>
      <source>Date of the declination (YYYY-MM-DD)</source>
      <translation>Data della declinazione (AAAA-MM-GG)</translation>
    </message>
    <message>
      <source>Ellipsoidal height (m)</source>
      <translation>Altezza ellissoidica (m)</translation>
    </message>
    <message>
      <source>Control points</source>
      <translation>Punti di appoggio</translation>
    </message>
    <message>
      <source>Field with the target's name</source>
      <translation>Campo con il nome della mira</translation>
    </message>
    <message>
      <source>Result</source>
      <translation>Risultato</translation>
    </message>
    <message>
      <source>Network covariance (without it stations count as uncorrelated)</source>
      <translation>Covarianza della rete (senza, le stazioni valgono come non correlate)</translation>
    </message>
    <message>
      <source>Nearest target that is well placed (m)</source>
      <translation>Mira più vicina ben disposta (m)</translation>
    </message>
    <message>
      <source>Farthest target that is well placed (m)</source>
      <translation>Mira più lontana ben disposta (m)</translation>
    </message>
    <message>
      <source>Largest slant of a target's surface to the beam (deg)</source>
      <translation>Massima inclinazione della superficie di una mira rispetto al raggio (gradi)</translation>
    </message>
    <message>
      <source>Least angle at which lines of sight should cut (deg)</source>
      <translation>Angolo minimo al quale le visuali dovrebbero intersecarsi (gradi)</translation>
    </message>
    <message>
      <source>Update building layer</source>
      <translation>Aggiorna il layer dell'edificio</translation>
    </message>
    <message>
      <source>Brings accepted changes of Compare with building layer into the maintained layer: new outlines, with identifiers and every other attribute kept. Of a split the largest part keeps the identifier and all parts its attributes; a merged room goes on as the old room it has most of. Rooms that end keep their row with a last day of validity where there is such a field, else they go to a history table.

All is one transaction: everything or nothing. A room that somebody changed since it was compared stops the update before anything is written. A dry run does all of it, triggers and foreign keys included, and takes it back. The undo file brings the old state back.

A shapefile, or another format without transactions, is not touched: a changed copy is written.</source>
      <translation>Porta nel layer mantenuto i cambiamenti accettati di Confronta con il layer dell'edificio: nuovi contorni, conservando identificativi e ogni altro attributo. In una divisione la parte maggiore conserva l'identificativo e tutte le parti gli attributi; un vano unito continua come il vecchio da cui ha di più. I vani che finiscono conservano la riga con un ultimo giorno di validità dove c'è un tale campo, altrimenti vanno in una tabella storica.

Tutto è una transazione: tutto o niente. Un vano che qualcuno ha cambiato dopo il confronto ferma l'aggiornamento prima che si scriva qualcosa. Una prova fa tutto, trigger e chiavi esterne compresi, e lo annulla. Il file di annullamento riporta lo stato precedente.

Uno shapefile, o un altro formato senza transazioni, non viene toccato: si scrive una copia cambiata.</translation>
    </message>
    <message>
      <source>Changes to make, of those accepted</source>
      <translation>Cambiamenti da eseguire, tra quelli accettati</translation>
    </message>
    <message>
      <source>Dry run</source>
      <translation>Prova senza scrivere</translation>
    </message>
    <message>
      <source>Write areas into their field</source>
      <translation>Scrivi le superfici nel loro campo</translation>
    </message>
    <message>
      <source>Date of survey (ISO 8601; empty: today)</source>
      <translation>Data di rilievo (ISO 8601; vuoto: oggi)</translation>
    </message>
    <message>
      <source>Report whose SHA-256 is kept</source>
      <translation>Relazione di cui si conserva lo SHA-256</translation>
    </message>
    <message>
      <source>Undo file of an earlier update, to take it back (instead of changes)</source>
      <translation>File di annullamento di un aggiornamento precedente, per annullarlo (invece di cambiamenti)</translation>
    </message>
    <message>
      <source>Undo file</source>
      <translation>File di annullamento</translation>
    </message>
    <message>
      <source>JSON (*.json)</source>
      <translation>JSON (*.json)</translation>
    </message>
    <message>
      <source>Copy, for a format without transactions</source>
      <translation>Copia, per un formato senza transazioni</translation>
    </message>
    <message>
      <source>Shapefile (*.shp)</source>
      <translation>Shapefile (*.shp)</translation>
    </message>
    <message>
      <source>The layer</source>
      <translation>Il layer</translation>
    </message>
    <message>
      <source>Rows changed</source>
      <translation>Righe cambiate</translation>
    </message>
    <message>
      <source>Building layer updated</source>
      <translation>Layer dell'edificio aggiornato</translation>
    </message>
    <message>
      <source>Walls generalised for 1:{scale}, tolerance {tolerance:g} mm on the building; largest RMS of a face {rms:.1f} mm.</source>
      <translation>Pareti generalizzate per 1:{scale}, tolleranza {tolerance:g} mm sull'edificio; massimo scarto quadratico di una faccia {rms:.1f} mm.</translation>
    </message>
    <message>
      <source>The accuracy of the site fit is in the survey report.</source>
      <translation>La precisione dell'inserimento è nella relazione di rilievo.</translation>
    </message>
    <message>
      <source>Not a structural or boundary document: defer to local codes and a licensed surveyor.</source>
      <translation>Non è un documento strutturale né di confine: prevalgono le norme locali e un topografo abilitato.</translation>
    </message>
    <message>
      <source>Laser safety: observe the class on the instrument's own label.</source>
      <translation>Sicurezza laser: rispetta la classe indicata sull'etichetta dello strumento.</translation>
    </message>
    <message>
      <source>{first} to {last}</source>
      <translation>{first} – {last}</translation>
    </message>
    <message>
      <source>{count} stations</source>
      <translation>{count} stazioni</translation>
    </message>
    <message>
      <source>{stations}, standard errors not known.</source>
      <translation>{stations}, scarti non noti.</translation>
    </message>
    <message>
      <source>Walls generalised for 1:{scale}, tolerance {tolerance:g} mm on the building.</source>
      <translation>Pareti generalizzate per 1:{scale}, tolleranza {tolerance:g} mm sull'edificio.</translation>
    </message>
    <message>
      <source>Plan coordinates (local, metres); not georeferenced.</source>
      <translation>Coordinate della pianta (locali, metri); non georeferenziata.</translation>
    </message>
    <message>
      <source>Drawn in plan coordinates (local, metres); georeferenced in {crs}.</source>
      <translation>Disegnata in coordinate della pianta (locali, metri); georeferenziata in {crs}.</translation>
    </message>
    <message>
      <source>Coordinates in {crs}.</source>
      <translation>Coordinate in {crs}.</translation>
    </message>
    <message>
      <source>Site fit (1 sigma): east {east:.3f} m, north {north:.3f} m, rotation {turn:.3f} deg.</source>
      <translation>Inserimento (1 sigma): est {east:.3f} m, nord {north:.3f} m, rotazione {turn:.3f} gradi.</translation>
    </message>
    <message>
      <source>Site fit (1 sigma): east {east:.3f} m, north {north:.3f} m.</source>
      <translation>Inserimento (1 sigma): est {east:.3f} m, nord {north:.3f} m.</translation>
    </message>
    <message>
      <source>Site fit (1 sigma): rotation {turn:.3f} deg.</source>
      <translation>Inserimento (1 sigma): rotazione {turn:.3f} gradi.</translation>
    </message>
    <message>
      <source>{stations}; largest standard error of a station (1 sigma) {error:.1f} mm, relative to the datum of the network.</source>
      <translation>{stations}; massimo scarto di una stazione (1 sigma) {error:.1f} mm, rispetto al riferimento della rete.</translation>
    </message>
    <message>
      <source>{stations}; largest standard error of a station (1 sigma) {error:.1f} mm, of an orientation {turned:.3f} deg, relative to the datum of the network.</source>
      <translation>{stations}; massimo scarto di una stazione (1 sigma) {error:.1f} mm, di un orientamento {turned:.3f} gradi, rispetto al riferimento della rete.</translation>
    </message>
    <message>
      <source>{count} without a tie, sketched by compass and geotag: do not scale from there.</source>
      <translation>{count} senza collegamento, abbozzate con bussola e geotag: non misurare da lì.</translation>
    </message>
    <message>
      <source>Surveyed: {dates}</source>
      <translation>Rilevata: {dates}</translation>
    </message>
    <message>
      <source>Surveyed: date not recorded</source>
      <translation>Rilevata: data non annotata</translation>
    </message>
    <message>
      <source>Level 0 (ground)</source>
      <translation>Piano 0 (terra)</translation>
    </message>
    <message>
      <source>{size} landscape</source>
      <translation>{size} orizzontale</translation>
    </message>
    <message>
      <source>{size} portrait</source>
      <translation>{size} verticale</translation>
    </message>
    <message>
      <source>Drawn at ground scale: a ground distance is its grid distance divided by the combined scale factor {factor:.6f}.</source>
      <translation>Disegnata in scala al suolo: una distanza al suolo è quella di rete divisa per il fattore di scala combinato {factor:.6f}.</translation>
    </message>
    <message>
      <source>Title</source>
      <translation>Titolo</translation>
    </message>
    <message>
      <source>Document type</source>
      <translation>Tipo di documento</translation>
    </message>
    <message>
      <source>Plan of existing interior</source>
      <translation>Pianta dello stato di fatto degli interni</translation>
    </message>
    <message>
      <source>Storey</source>
      <translation>Piano</translation>
    </message>
    <message>
      <source>Scale</source>
      <translation>Scala</translation>
    </message>
    <message>
      <source>1:{scale} (ground) on {paper}</source>
      <translation>1:{scale} (al suolo) su {paper}</translation>
    </message>
    <message>
      <source>Date of survey</source>
      <translation>Data del rilievo</translation>
    </message>
    <message>
      <source>Coordinate system</source>
      <translation>Sistema di coordinate</translation>
    </message>
    <message>
      <source>Sheet</source>
      <translation>Tavola</translation>
    </message>
    <message>
      <source>not recorded</source>
      <translation>non annotata</translation>
    </message>
    <message>
      <source>plan coordinates (local)</source>
      <translation>coordinate della pianta (locali)</translation>
    </message>
    <message>
      <source>unnamed</source>
      <translation>senza nome</translation>
    </message>
    <message>
      <source>not known</source>
      <translation>non nota</translation>
    </message>
    <message>
      <source>Accuracy. {sentence}</source>
      <translation>Precisione. {sentence}</translation>
    </message>
    <message>
      <source>Datum. {sentence}</source>
      <translation>Riferimento. {sentence}</translation>
    </message>
    <message>
      <source>Ellipses at stations: 95 %, drawn 100 times too large. Dashed: seen by no reading.</source>
      <translation>Ellissi alle stazioni: 95 %, ingrandite 100 volte. Tratteggio: non visto da alcuna lettura.</translation>
    </message>
    <message>
      <source>Areas are between wall faces at the instrument's height; ± is one standard error.</source>
      <translation>Le superfici stanno tra le facce delle pareti all'altezza dello strumento; ± è uno scarto quadratico medio.</translation>
    </message>
    <message>
      <source>Caution. {sentence}</source>
      <translation>Attenzione. {sentence}</translation>
    </message>
    <message>
      <source>Error band (95 %)</source>
      <translation>Fascia di errore (95 %)</translation>
    </message>
    <message>
      <source>Survey notes</source>
      <translation>Note di rilievo</translation>
    </message>
    <message>
      <source>Known points</source>
      <translation>Punti noti</translation>
    </message>
    <message>
      <source>Changes of the building layer</source>
      <translation>Cambiamenti del layer dell'edificio</translation>
    </message>
    <message>
      <source>Findings on the building layer</source>
      <translation>Riscontri sul layer dell'edificio</translation>
    </message>
  </context>
</TS>
